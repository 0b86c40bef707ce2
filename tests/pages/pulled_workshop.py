"""A small workshop whose fits take a blink: a few whips that one hand pulled."""

from pathlib import Path
from typing import Any

from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from tests.usecases.test_fits_over_time import CORDS, pulled


def workshop(folder: Path, name: str = "small.db", whips: int = 7, slip: bool = False) -> str:
    """A database with a few whips and no fit; with a slip one reading has its decimal point in the wrong
    place."""
    records: list[dict[str, Any]] = [*map(pulled, range(whips))]
    if slip:
        records[-1]["readings"][2]["diameter_mm"] /= 10
    database = str(folder / name)
    engine, _ = ready_engine(database)
    write(engine, lambda session: take_records(session, [*CORDS, *records]))
    engine.dispose()
    return database
