"""From the first revision to the second and back: what is recorded survives, history becomes entries."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from alembic import command
from sqlalchemy import Connection, Engine, MetaData, insert, select, text

from plaitlog.models.errors import UndoError
from plaitlog.models.tables import Base
from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import bring_up_to_date, migrating_connection
from plaitlog.service.revisions import alembic_config, migrate_to
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.changes.history import history
from plaitlog.service.usecases.changes.undoing import undo
from plaitlog.service.usecases.importing import take_records
from tests.usecases.contents import content_hash
from tests.usecases.examples import WORKSHOP

NOON = dt.datetime(2026, 3, 1, 12, 30, 15, 123456, tzinfo=dt.UTC)
DAY = dt.date(2026, 1, 2)
TYPED = {"weight": "14 oz"}
READING = {"kind": "reading", "whip": "b"}
FIRST: dict[str, list[dict[str, Any]]] = {
    "makers": [{"id": 3, "name": "Orrin", "version": 1}],
    "cords": [{"id": 1, "name": "Ridge 4 mm", "material": "nylon", "construction": "cored", "version": 2}],
    "cord_stock": [{"id": 1, "cord_id": 1, "metres": 3.5, "version": 1}],
    "whips": [
        {"id": 5, "label": "Ä 1", "maker_id": 3, "finish": ["waxed"], "typed": TYPED, "version": 3},
        {"id": 9, "label": "b", "layers_complete": False, "version": 1},
    ],
    "cord_uses": [{"id": 1, "whip_id": 5, "cord_id": 1, "metres": 0.1}],
    "layers": [{"id": 1, "whip_id": 5, "position": 1, "role": "core", "rest": "point"}],
    "layer_cords": [{"id": 1, "layer_id": 1, "position": 1, "cord_id": 1, "share": 1 / 3}],
    "steps": [
        {"id": 7, "layer_id": 1, "position": 1, "place_kind": "at", "place_low_mm": 0.0, "place_high_mm": 0.0}
    ],
    "step_counts": [{"id": 1, "step_id": 7, "cord_position": 1, "low": 6.0, "high": 6.0}],
    "readings": [
        {"id": 2, "whip_id": 5, "at_mm": 0.1 + 0.2, "diameter_mm": 12.7, "doubtful": True, "on": DAY},
        {"id": 8, "whip_id": 9, "place": "point", "girth_mm": 20.0, "doubtful": False},
    ],
    "turn_lengths": [{"id": 1, "whip_id": 5, "at_mm": 1.0, "turn_mm": 62.0}],
    "weights": [{"id": 1, "whip_id": 5, "weight_g": 400.0, "with_parts": "none"}],
    "rating_sessions": [{"id": 4, "whip_id": 5, "by": "Tamsin", "version": 1}],
    "scores": [{"id": 1, "session_id": 4, "quality": "ease", "score": None}],
    "fits": [
        {"id": 1, "code_version": "0", "fingerprint": "f", "artefact": {"a": [1.5, None]}, "current": True}
    ],
    "history": [
        {
            "id": 1,
            "action": "import",
            "subject": "old.jsonl",
            "before": [None, {"kind": "whip", "label": "b"}],
            "after": [{"kind": "maker", "name": "Orrin"}, {"kind": "whip", "label": "b", "hours": 1.1}],
        },
        {
            "id": 2,
            "action": "edit",
            "before": {"kind": "cord", "name": "Ridge 4 mm"},
            "after": {"kind": "cord", "name": "Ridge 4 mm", "notes": "soft"},
        },
        {"id": 6, "action": "record", "actor": "Orrin", "before": [None], "after": [READING]},
        {"id": 7, "action": "import", "before": None, "after": None},
    ],
}


@contextmanager
def migrating(engine: Engine) -> Iterator[Connection]:
    with migrating_connection(engine) as connection, connection.begin():
        yield connection


def contents(engine: Engine) -> dict[str, list[dict[str, Any]]]:
    tables = MetaData()
    with engine.connect() as connection:
        tables.reflect(connection)
        return {
            name: [dict(row._mapping) for row in connection.execute(select(*table.c).order_by(table.c.id))]
            for name, table in tables.tables.items()
            if name in Base.metadata.tables
        }


@pytest.fixture
def first(blank_engine: Engine) -> Engine:
    """A workshop at the first revision with a row in every table."""
    with migrating(blank_engine) as connection:
        migrate_to(connection, "0001")
    tables = MetaData()
    with blank_engine.begin() as connection:
        tables.reflect(connection)
        for name, rows in FIRST.items():
            table = tables.tables[name]
            made = {"created_at": NOON.replace(tzinfo=None)} if "created_at" in table.c else {}
            for row in rows:
                # A list that is not known is null, not the JSON word.
                connection.execute(insert(table), {k: v for k, v in {**row, **made}.items() if v is not None})
            if connection.dialect.name == "postgresql":
                # These rows were put in with their keys, which a sequence does not see.
                last = {"name": f"{name}_id_seq", "last": max(row["id"] for row in rows)}
                connection.execute(text("SELECT setval(:name, :last)"), last)
    return blank_engine


def down(engine: Engine) -> None:
    with migrating(engine) as connection:
        config = alembic_config()
        config.attributes["connection"] = connection
        command.downgrade(config, "0001")


def test_rows_of_the_first_revision_survive_up_down_and_up(first: Engine) -> None:
    before = contents(first)
    assert all(before[name] for name in FIRST)
    bring_up_to_date(first)
    up = contents(first)
    for name in FIRST.keys() - {"history", "readings", "layer_cords", "whips", "rating_sessions", "scores"}:
        assert up[name] == before[name]
    assert up["layer_cords"] == [{**row, "lot": None} for row in before["layer_cords"]]
    assert up["whips"] == [{**row, "plan": None} for row in before["whips"]]
    assert up["rating_sessions"] == [{**row, "compared_with_id": None} for row in before["rating_sessions"]]
    assert up["scores"] == [{**row, "comparison": None} for row in before["scores"]]
    assert up["readings"] == [{**row, "version": 0} for row in before["readings"]]
    down(first)
    assert contents(first) == before
    bring_up_to_date(first)
    assert contents(first) == up


def test_old_lists_are_shown_as_entries_and_cannot_be_undone(first: Engine) -> None:
    bring_up_to_date(first)
    with reading(first) as session:
        found = {change.number: change for change in history(session)}
    assert {number: [entry.words for entry in change.entries] for number, change in found.items()} == {
        1: ["maker Orrin: added", "whip b: hours null -> 1.1"],
        2: ["cord Ridge 4 mm: notes null -> soft"],
        6: ["reading of b: added"],
        7: [],
    }
    assert not any(change.undoable or change.undone for change in found.values())
    for number in (None, 1, 2, 6, 7):
        with pytest.raises(UndoError, match="made before changes could be undone"), writing(first) as session:
            undo(session, number)


def test_old_rows_are_edited_and_undone_like_any_other(first: Engine) -> None:
    bring_up_to_date(first)
    before = content_hash(first)
    with writing(first) as session:
        edited = editing.edit_whip(session, "Ä 1", {"weight": "15 oz", "layers": None}, version=3)
    assert edited.number == 8, "numbers of changes go on"
    with writing(first) as session:
        editing.remove_reading(session, 8)
    for _ in range(2):
        with writing(first) as session:
            undo(session)
    assert content_hash(first) == before


def test_no_key_is_given_twice(first: Engine) -> None:
    """Of a row that was there before the migration, and of one that came after it."""
    bring_up_to_date(first)
    for expected in (10, 11):
        with writing(first) as session:
            take_records(session, [{"kind": "whip", "label": "new"}])
        with reading(first) as session:
            assert workshop.whip_keys(session, ["new"]) == {"new": expected}
        with writing(first) as session:
            editing.remove_whip(session, "new")


def test_what_the_second_revision_recorded_survives_down_and_up(engine: Engine) -> None:
    """All but the rows kept for an undo, which the first revision has no room for."""
    with writing(engine) as session:
        take_records(session, WORKSHOP)
    with writing(engine) as session:
        editing.edit_whip(session, "old 3", {"hours": 3})
    before = contents(engine)
    down(engine)
    bring_up_to_date(engine)
    after = contents(engine)
    for name in Base.metadata.tables:
        if name == "readings":
            before[name] = [{**row, "version": 0} for row in before[name]]
        if name == "history_entries":
            before[name] = [{**row, "images": None} for row in before[name]]
        assert after[name] == before[name], name
