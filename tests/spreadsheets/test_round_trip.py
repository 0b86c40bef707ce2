"""A workshop goes out as tables and comes back the same, byte for byte, through CSV and through xlsx."""

import json
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from sqlalchemy import Engine

from plaitlog.service.database import writing
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.to_records import is_short
from tests.spreadsheets.workshop_files import as_csv, as_xlsx, take, take_all
from tests.usecases.examples import WORKSHOP
from tests.usecases.nouns import Workshop, workshops
from tests.usecases.test_round_trip import emptied, exported, records_of, rows

THOROUGH = settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)


def holdable(workshop: Workshop) -> Workshop:
    """Without what tables cannot hold: the maker's own rating with nothing rated."""
    return replace(
        workshop,
        whips=tuple(
            replace(whip, ratings=tuple(x for x in whip.ratings if x.scores or not is_short(x)))
            for whip in workshop.whips
        ),
    )


def filled(engine: Engine, workshop: Workshop) -> None:
    emptied(engine)
    with writing(engine) as session:
        take_records(session, json.loads(json.dumps(records_of(workshop))))


@THOROUGH
@given(workshop=workshops())
def test_a_workshop_survives_xlsx(sqlite_engine: Engine, workshop: Workshop) -> None:
    filled(sqlite_engine, holdable(workshop))
    lines, first = exported(sqlite_engine), as_xlsx(sqlite_engine)
    emptied(sqlite_engine)
    take(sqlite_engine, first, "workshop.xlsx")
    assert exported(sqlite_engine) == lines
    assert as_xlsx(sqlite_engine) == first


@THOROUGH
@given(workshop=workshops())
def test_a_workshop_survives_csv(sqlite_engine: Engine, workshop: Workshop) -> None:
    filled(sqlite_engine, holdable(workshop))
    lines, first = exported(sqlite_engine), as_csv(sqlite_engine)
    emptied(sqlite_engine)
    take_all(sqlite_engine, first)
    assert exported(sqlite_engine) == lines
    assert as_csv(sqlite_engine) == first


@pytest.mark.parametrize("form", ["xlsx", "csv"])
def test_the_example_survives_and_a_second_import_changes_nothing(engine: Engine, form: str) -> None:
    with writing(engine) as session:
        take_records(session, WORKSHOP)
    lines, book, files = exported(engine), as_xlsx(engine), as_csv(engine)
    before = rows(engine)
    for again in range(2):
        if form == "xlsx":
            take(engine, book, "workshop.xlsx")
        else:
            take_all(engine, files)
        if again == 0:
            assert rows(engine) == before, "importing what is there already changes nothing"
            emptied(engine)
    assert exported(engine) == lines
    assert as_xlsx(engine) == book
    assert as_csv(engine) == files
