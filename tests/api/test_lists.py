"""Lists come by the page, in a fixed number of queries however long they are."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Engine, event
from starlette.testclient import TestClient

from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from tests.api.server import API, given, refused, serving

NOUNS = ("makers", "cords", "stock", "whips", "readings", "ratings")
WHIPS = 30


@pytest.fixture(scope="module")
def busy(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A workshop with dozens of everything."""
    database = str(tmp_path_factory.mktemp("busy") / "plaitlog.db")
    engine, _ = ready_engine(database)
    write(engine, lambda session: take_records(session, list(records())))
    engine.dispose()
    with serving(database) as client:
        yield client


def records() -> Iterator[dict[str, object]]:
    for number in range(WHIPS):
        cord, label = f"Cord {number:02}", f"W{WHIPS - number:02}"
        yield {"kind": "cord", "name": cord, "material": "nylon", "construction": "cored"}
        yield {"kind": "stock", "cord": cord, "metres": number}
        yield {
            "kind": "whip",
            "label": label,
            "maker": f"Maker {number % 25}",
            "type": "bullwhip" if number % 3 else "stock whip",
            "status": "planned" if number % 2 else "finished",
            "layers": [{"role": "overlay", "cord": cord, "strands": [[0, 12]]}],
            "readings": [{"at_mm": 10 * number, "diameter_mm": 12}],
        }
        yield {"kind": "rating", "whip": label, "by": "Orrin", "on": "2026-01-02", "scores": {"ease": 5}}


@contextmanager
def counted(engine: Engine) -> Iterator[list[str]]:
    """The statements that are sent to the database, without those that begin a transaction."""
    statements: list[str] = []

    def note(connection: object, cursor: object, statement: str, *rest: object) -> None:
        if not statement.startswith(("BEGIN", "PRAGMA")):
            statements.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    yield statements
    event.remove(engine, "before_cursor_execute", note)


@pytest.mark.parametrize("noun", NOUNS)
def test_a_page_takes_as_many_queries_for_one_item_as_for_all(busy: TestClient, noun: str) -> None:
    engine = busy.app.state.engine  # type: ignore[attr-defined]
    with counted(engine) as few:
        assert len(given(busy.get(f"{API}/{noun}?limit=1"))["items"]) == 1
    with counted(engine) as many:
        assert len(given(busy.get(f"{API}/{noun}?limit=200"))["items"]) >= 25
    assert 0 < len(few) == len(many) <= 4


def test_the_history_takes_as_many_queries_for_one_change_as_for_many(busy: TestClient) -> None:
    for number in range(3):
        busy.post(f"{API}/makers", json={"name": f"Late {number}"})
    engine = busy.app.state.engine  # type: ignore[attr-defined]
    with counted(engine) as few:
        assert len(given(busy.get(f"{API}/history?limit=1"))["items"]) == 1
    with counted(engine) as many:
        items = given(busy.get(f"{API}/history?limit=200"))["items"]
    assert [len(item["entries"]) for item in items] == [1, 1, 1, 20]
    assert 0 < len(few) == len(many) <= 5


@pytest.mark.parametrize("noun", NOUNS)
def test_pages_part_a_list_without_loss(busy: TestClient, noun: str) -> None:
    whole = given(busy.get(f"{API}/{noun}?limit=200"))
    parts = []
    for offset in range(0, whole["total"] + 7, 7):
        page = given(busy.get(f"{API}/{noun}", params={"limit": 7, "offset": offset}))
        assert (page["total"], page["offset"]) == (whole["total"], offset)
        parts += page["items"]
    assert parts == whole["items"]
    assert len(parts) == whole["total"]


def test_names_come_in_their_order(busy: TestClient) -> None:
    labels = [item["label"] for item in given(busy.get(f"{API}/whips?limit=200"))["items"]]
    assert labels == sorted(labels)
    assert len(labels) == WHIPS


def test_whips_are_narrowed_by_maker_type_and_status(busy: TestClient) -> None:
    for key, value, number in (
        ("maker", "Maker 3", 2),
        ("type", "stock whip", 10),
        ("status", "planned", 15),
    ):
        page = given(busy.get(f"{API}/whips", params={key: value, "limit": 200}))
        assert page["total"] == len(page["items"]) == number
        assert {item[key] for item in page["items"]} == {value}
    assert given(busy.get(f"{API}/whips", params={"maker": "nobody"}))["items"] == []


def test_readings_and_ratings_are_narrowed_by_whip_and_stock_by_cord(busy: TestClient) -> None:
    for noun, key, value in (
        ("readings", "whip", "W07"),
        ("ratings", "whip", "W07"),
        ("stock", "cord", "Cord 07"),
    ):
        page = given(busy.get(f"{API}/{noun}", params={key: value}))
        assert [item["record"][key] for item in page["items"]] == [value]
        assert given(busy.get(f"{API}/{noun}", params={key: "nothing"}))["total"] == 0


@pytest.mark.parametrize(
    ("query", "where"),
    [
        ("limit=0", "query, limit"),
        ("limit=201", "query, limit"),
        ("limit=ten", "query, limit"),
        ("limit=1.5", "query, limit"),
        ("offset=-1", "query, offset"),
        (f"offset={10**12}", "query, offset"),
        ("limit=1&limit=2", "query, limit"),
        ("lmit=3", "query, lmit"),
        ("status=", "query, status"),
    ],
)
def test_a_parameter_that_cannot_be_taken_is_named(busy: TestClient, query: str, where: str) -> None:
    error = refused(busy.get(f"{API}/whips?{query}"), 422)
    assert error["where"] == where
    assert error["remedy"]


def test_an_empty_workshop_has_empty_lists(tmp_path: Path) -> None:
    with serving(str(tmp_path / "a.db")) as client:
        for noun in (*NOUNS, "fits", "history"):
            assert given(client.get(f"{API}/{noun}"))["items"] == []
