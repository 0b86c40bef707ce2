"""A page of a list asks its database the same number of times for three whips as for three hundred."""

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import write
from plaitlog.service.usecases.importing import take_records
from tests.api.server import serving
from tests.pages.conftest import HTML
from tests.pages.statements import counted

LISTS = ("/whips", "/whips?sort=thick_mm&text=orrin", "/changes", "/changes?kind=whip", "/makers")


def whip(number: int) -> list[dict[str, Any]]:
    return [
        {
            "kind": "whip",
            "label": f"W-{number:03d}",
            "maker": f"maker {number % 40}",
            "status": ("on the bench", "finished")[number % 2],
            "thong_length_mm": 1500 + number,
            "layers": [{"role": "overlay", "cord": f"Ridge {number % 30}", "strands": "in: 12; p"}],
            "readings": [{"at_mm": 100, "diameter_mm": 14}, {"at_mm": 1400, "diameter_mm": 6}],
            "ratings": {"overall": 1 + number % 10},
        }
    ]


def cords() -> list[dict[str, Any]]:
    known = {"kind": "cord", "material": "nylon", "construction": "cored"}
    return [{**known, "name": f"Ridge {number}"} for number in range(30)]


def add(client: TestClient, numbers: range) -> None:
    """Each whip by a change of its own, so that the history grows as the list does."""
    engine = client.app.state.engine  # type: ignore[attr-defined]
    for number in numbers:
        write(engine, lambda session, n=number: take_records(session, whip(n)))


@pytest.fixture
def filled(tmp_path: Path) -> Any:
    with serving(str(tmp_path / "plaitlog.db")) as client:
        client.headers.update(HTML)
        write(client.app.state.engine, lambda session: take_records(session, cords()))  # type: ignore[attr-defined]
        add(client, range(3))
        yield client


def test_as_many_queries_for_3_whips_as_for_300(filled: TestClient) -> None:
    few = {address: asked(filled, address) for address in LISTS}
    add(filled, range(3, 20))
    write(
        filled.app.state.engine,  # type: ignore[attr-defined]
        lambda session: take_records(session, [one for n in range(20, 300) for one in whip(n)]),
    )
    assert {address: asked(filled, address) for address in LISTS} == few
    assert max(few.values()) <= 12
    assert asked(filled, "/") <= 25


def asked(client: TestClient, address: str) -> int:
    with counted(client) as sent:
        answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return len(sent)
