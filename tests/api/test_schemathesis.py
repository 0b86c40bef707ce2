"""Thousands of requests made up from the description, valid and not: nothing breaks, nothing undocumented.

All checks of schemathesis are on, in all its phases: examples, boundary values (coverage), fuzzing, and
sequences of operations (stateful). One check is told more than a schema can say: a record may fit its schema
and still contradict itself or name a cord that is not there, which is answered by 422, or hold the character
0, which no database takes and which is answered by 400.

At least 2 000 requests are made up, mostly boundary values; PLAITLOG_API_CASES=20000 makes up that many.
"""

import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events, from_schema

from plaitlog.service.app import create_app
from plaitlog.service.database import write
from plaitlog.service.settings import Settings
from plaitlog.service.usecases.photos.encoding import encoded
from plaitlog.service.usecases.photos.keeping import add_photos
from tests.api.conftest import fill
from tests.api.server import ADDRESS, API
from tests.usecases.pictures_taken import from_a_telephone

CASES = int(os.environ.get("PLAITLOG_API_CASES", "2000"))
BOUNDARIES = 3_000
"""At least so many requests are boundary values, however many are asked for."""
PHASES = {"examples", "coverage", "fuzzing", "stateful"}
MEANINGFUL = ["2xx", "3xx", "401", "403", "404", "409", "429", "400", "422"]
"""The usual good answers to what fits its schema, and the two for what cannot be taken all the same."""


@schemathesis.serializer(
    "application/jsonl",
    "application/x-ndjson",
    "text/csv",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "image/jpeg",
    "image/png",
    "image/webp",
)
def as_bytes(context: Any, value: Any) -> bytes:
    """Files are made up as text or bytes."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    fill(str(tmp_path / "plaitlog.db"))
    app = create_app(Settings(database_url=str(tmp_path / "plaitlog.db")))
    photo = encoded(from_a_telephone())  # no picture is ever made up
    write(app.state.engine, lambda session: add_photos(session, "2026-014", [photo]))
    yield app
    app.state.engine.dispose()


def configured(examples: int) -> SchemathesisConfig:
    return SchemathesisConfig.from_dict(
        {
            "base-url": ADDRESS,
            "seed": 1,
            "generation": {
                "max-examples": examples,
                "deterministic": True,
                "no-shrink": True,
                "database": "none",
            },
            "operations": [
                {
                    "include-method": ["POST", "PATCH"],
                    "checks": {"positive_data_acceptance": {"expected-statuses": MEANINGFUL}},
                }
            ],
        }
    )


def test_nothing_is_found_in_thousands_of_made_up_requests(app: FastAPI) -> None:
    operations = sum(len(methods) for methods in app.openapi()["paths"].values())
    config = configured(max(8, (CASES - BOUNDARIES) // operations))
    host = {"Host": ADDRESS.removeprefix("http://")}
    schema = schemathesis.openapi.from_asgi(f"{API}/openapi.json", app, config=config, headers=host)
    phases: Counter[str] = Counter()
    covered: set[str] = set()
    found: list[str] = []
    for event in from_schema(schema).execute():
        if isinstance(event, events.ScenarioFinished):
            phases[event.phase.value] += len(event.recorder.cases)
            covered |= {node.value.operation.label for node in event.recorder.cases.values()}
            found += _failures(event.recorder)
        elif isinstance(event, events.NonFatalError):
            found.append(f"{event.label}: {event.value!r}")
        elif isinstance(event, events.FatalError):
            found.append(repr(event.exception))
    assert not found, f"{len(found)} failures, such as\n\n" + "\n\n".join(found[:5])
    assert set(phases) == PHASES
    assert all(phases.values()), phases
    assert sum(phases.values()) >= CASES, phases
    assert len(covered) == operations


def _failures(recorder: Any) -> Iterator[str]:
    for checks in recorder.checks.values():
        for check in checks:
            if check.failure_info is not None:
                failure = check.failure_info.failure
                yield (
                    f"{failure.operation}: {check.name}: {failure.title}\n{failure.message[:500]}\n"
                    f"{check.failure_info.code_sample[:1000]}"
                )
