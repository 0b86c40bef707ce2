"""Have everything that a fit reads kept, in short transactions between which others write."""

from collections.abc import Callable
from contextlib import suppress

from sqlalchemy import Engine

from plaitlog.models.errors import BusyDatabaseError
from plaitlog.service.database import reading, write
from plaitlog.service.usecases.gathering import keep_gathered, lacking_whips

Progress = Callable[[str, int, int | None], None]


def fill_gathered(engine: Engine, progress: Progress = lambda doing, done, total: None) -> None:
    """Keep what every whip says to a fit that lacks it; the first time that takes a while.

    Gathering gives the same without it, so where others write all the time it is left for later.
    """
    with reading(engine) as session:
        total = lacking_whips(session)
    done = 0
    with suppress(BusyDatabaseError):
        while done < total and (kept := write(engine, keep_gathered)):
            done += kept
            progress("reading whips", min(done, total), total)
