"""Whatever goes wrong, the answer has one shape, and no traceback."""

import logging
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.api import whips
from plaitlog.service.database import open_engine, writing
from tests.api.conftest import fill
from tests.api.server import API, given, refused, serving


@pytest.mark.parametrize(
    "address", ["/nothing", f"{API}/", f"{API}/whip", f"{API}/readings/1/2", "/healthz/"]
)
def test_there_is_nothing_at_another_address(client: TestClient, address: str) -> None:
    refused(client.get(address), 404, "no-such-address")


@pytest.mark.parametrize(
    ("method", "address", "allowed"),
    [
        ("PUT", f"{API}/whips", "GET, POST"),
        ("DELETE", f"{API}/whips", "GET, POST"),
        ("POST", f"{API}/whips/2026-014", "DELETE, GET, PATCH"),
        ("OPTIONS", f"{API}/readings/1", "DELETE, GET, PATCH"),
        ("TRACE", "/healthz", "GET"),
        ("PATCH", f"{API}/exports/records.jsonl", "GET"),
        ("BREW", f"{API}/imports", "POST"),
    ],
)
def test_another_method_is_answered_by_those_there_are(
    client: TestClient, method: str, address: str, allowed: str
) -> None:
    answer = client.request(method, address)
    refused(answer, 405, "no-such-method")
    assert answer.headers["allow"] == allowed


def test_a_busy_database_is_answered_by_503_and_when_to_try_again(tmp_path: Path) -> None:
    database = str(tmp_path / "a.db")
    with serving(database, busy_timeout_s=0.05) as client:
        other = open_engine(database)
        with writing(other) as session:
            session.connection()
            answer = client.post(f"{API}/makers", json={"name": "Orrin"})
        other.dispose()
        refused(answer, 503, "database-busy")
        assert int(answer.headers["retry-after"]) >= 1
        given(client.post(f"{API}/makers", json={"name": "Orrin"}), 201)


def test_a_database_that_is_gone_is_answered_by_503_though_the_server_lives(tmp_path: Path) -> None:
    database = tmp_path / "a.db"
    with serving(str(database)) as client:
        given(client.get("/readyz"))
        client.app.state.engine.dispose()  # type: ignore[attr-defined]
        for file in tmp_path.glob("a.db*"):
            file.unlink()
        database.write_bytes(b"this is no database" * 100)
        refused(client.get("/readyz"), 503, "database-unusable")
        refused(client.get(f"{API}/whips"), 503, "database-unusable")
        given(client.get("/healthz"))


def test_tables_of_another_revision_are_not_ready(tmp_path: Path) -> None:
    with serving(str(tmp_path / "a.db")) as client:
        with writing(client.app.state.engine) as session:  # type: ignore[attr-defined]
            session.connection().exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
        refused(client.get("/readyz"), 503, "other-revision")


def test_a_mistake_in_the_program_is_answered_by_500_without_its_innards(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*arguments: Any, **keywords: Any) -> None:
        raise ZeroDivisionError("the secret innards")

    monkeypatch.setattr(whips, "list_whips", broken)
    fill(str(tmp_path / "a.db"))
    with serving(str(tmp_path / "a.db")) as client, caplog.at_level(logging.ERROR):
        answer = client.get(f"{API}/whips")
    refused(answer, 500, "unexpected")
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "the secret innards" in caplog.text  # whoever runs the server is told
    assert answer.headers["x-content-type-options"] == "nosniff"
