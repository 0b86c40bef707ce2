"""What goes in comes out: nouns through records and tables, export through import, on both databases."""

import io
import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from sqlalchemy import Engine, delete, select

from plaitlog.models.tables import Base
from plaitlog.models.whip import Whip
from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.importing import import_lines, take_records
from plaitlog.service.usecases.places import unplaced
from plaitlog.service.usecases.to_records import (
    cord_record,
    is_short,
    maker_record,
    rating_record,
    stock_record,
    whip_record,
)
from plaitlog.service.usecases.workshop import cords_by_name, whips
from tests.usecases.examples import WORKSHOP
from tests.usecases.nouns import Workshop, workshops

# Shrinking a whole workshop takes minutes; what is printed without it is small enough to read.
THOROUGH = settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)


def emptied(engine: Engine) -> None:
    with engine.begin() as connection:
        for table in reversed(Base.metadata.sorted_tables):
            connection.execute(delete(table))


def exported(engine: Engine) -> bytes:
    with reading(engine) as session:
        return b"".join(export_lines(session))


def imported(engine: Engine, text: bytes) -> None:
    with writing(engine) as session:
        import_lines(session, io.BytesIO(text))


def rows(engine: Engine) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table."""
    with engine.connect() as connection:
        return {
            table.name: [tuple(row) for row in connection.execute(select(*table.c).order_by(table.c.id))]
            for table in Base.metadata.sorted_tables
        }


def records_of(workshop: Workshop) -> list[dict[str, object]]:
    return [
        *map(maker_record, workshop.makers),
        *map(cord_record, workshop.cords),
        *map(stock_record, workshop.stock),
        *map(whip_record, workshop.whips),
        *(rating_record(w.label, r) for w in workshop.whips for r in w.ratings if not is_short(r)),
    ]


def ordered(whip: Whip) -> object:
    """A whip with what has no order of its own put in one: readings by station, sessions by their text."""
    return (
        {**vars_of(whip), "readings": None, "ratings": None, "weights": None},
        sorted(map(repr, map(unplaced, whip.readings))),
        sorted(repr(_sorted_session(vars_of(rating))) for rating in whip.ratings),
        sorted(map(repr, whip.weights)),
    )


def vars_of(noun: object) -> dict[str, object]:
    return {name: getattr(noun, name) for name in noun.__slots__}  # type: ignore[attr-defined]


def _sorted_session(values: dict[str, object]) -> dict[str, object]:
    return {
        name: sorted(value.items()) if isinstance(value, dict) else value for name, value in values.items()
    }


@THOROUGH
@given(workshop=workshops())
def test_every_noun_survives_records_and_tables(engine: Engine, workshop: Workshop) -> None:
    emptied(engine)
    with writing(engine) as session:
        take_records(session, json.loads(json.dumps(records_of(workshop))))
    with reading(engine) as session:
        assert list(cords_by_name(session).values()) == sorted(workshop.cords, key=lambda x: x.name)
        found = {whip.label: whip for whip in whips(session)}
    for whip in workshop.whips:
        assert ordered(found[whip.label]) == ordered(whip)


@THOROUGH
@given(workshop=workshops())
def test_export_import_export_is_byte_identical(engine: Engine, workshop: Workshop) -> None:
    emptied(engine)
    with writing(engine) as session:
        take_records(session, json.loads(json.dumps(records_of(workshop))))
    first = exported(engine)
    before = rows(engine)
    imported(engine, first)
    assert rows(engine) == before, "importing what is there already changes nothing"
    emptied(engine)
    imported(engine, first)
    assert exported(engine) == first


def test_the_example_survives_and_a_second_import_changes_nothing(engine: Engine) -> None:
    text = b"".join(json.dumps(record).encode() + b"\n" for record in WORKSHOP)
    imported(engine, text)
    before, first = rows(engine), exported(engine)
    imported(engine, text)
    assert rows(engine) == before
    emptied(engine)
    imported(engine, first)
    assert exported(engine) == first


@pytest.mark.parametrize(
    "strands", ["mm: 16; p80: -2; p", "mm: 16; ?: -2; ~600: -2; p", [[0, 16], [900, 14]]]
)
def test_a_whip_whose_point_has_moved_survives(engine: Engine, strands: object) -> None:
    layer = {"role": "overlay", "cord": "Ridge 4 mm", "strands": strands}
    whip = {"kind": "whip", "label": "a", "thong_length_mm": 1500, "layers": [layer]}
    for records in ([*WORKSHOP, whip], [{"kind": "whip", "label": "a", "thong_length_mm": 1600}]):
        with writing(engine) as session:
            take_records(session, records)
    first = exported(engine)
    emptied(engine)
    imported(engine, first)
    assert exported(engine) == first
    with reading(engine) as session:
        steps = next(whip for whip in whips(session) if whip.label == "a").layers[0].schedule
    assert steps is not None
    if strands == "mm: 16; p80: -2; p":
        assert steps.steps[1].place.low_mm == 1520


@pytest.mark.postgresql
def test_an_export_is_the_same_on_both_databases(tmp_path: Path, postgresql_url: str) -> None:
    text = b"".join(json.dumps(record).encode() + b"\n" for record in WORKSHOP)
    found = []
    for database in (str(tmp_path / "whips.db"), postgresql_url):
        engine, _ = ready_engine(database)
        imported(engine, text)
        found.append(exported(engine))
        engine.dispose()
    assert found[0] == found[1]
