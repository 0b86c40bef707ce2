"""What a backup holds against what is there now, in numbers, before one takes the place of the other."""

import datetime as dt
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine, text
from sqlalchemy.exc import DBAPIError

from plaitlog.service.backups.checking import opened_to_read
from plaitlog.service.database import plain_error

_TABLES: Final = ("makers", "cords", "whips", "readings", "rating_sessions", "photos", "fits")
_LATEST: Final = "SELECT id, created_at FROM history ORDER BY id DESC LIMIT 1"


@dataclass(frozen=True, slots=True)
class Contents:
    """Rows by table, 0 where the table is younger than the backup; the latest change and when it was."""

    counts: Mapping[str, int]
    latest_change: int | None
    changed_at: dt.datetime | None


def contents_of_file(file: Path) -> Contents:
    """Of a sound copy of a workshop, of any revision."""
    with closing(opened_to_read(file)) as connection:

        def ask(query: str) -> Any:
            try:
                return connection.execute(query).fetchone()
            except sqlite3.OperationalError as error:
                if "no such table" in str(error):
                    return None
                raise

        return _counted(ask)


def contents_of_database(engine: Engine) -> Contents:
    """Of the database in use.

    Raises
    ------
    DatabaseError
        It cannot be read.
    """
    try:
        with engine.execution_options(read_only=True).connect() as connection:
            return _counted(lambda query: connection.execute(text(query)).first())
    except DBAPIError as error:
        raise plain_error(engine, error) from error


def _counted(ask: Callable[[str], Any]) -> Contents:
    counts = {}
    for name in _TABLES:
        row = ask(f"SELECT count(*) FROM {name}")
        counts[name] = 0 if row is None else int(row[0])
    latest = ask(_LATEST)
    return (
        Contents(counts, None, None) if latest is None else Contents(counts, latest[0], _instant(latest[1]))
    )


def _instant(stored: Any) -> dt.datetime:
    found = dt.datetime.fromisoformat(stored) if isinstance(stored, str) else stored
    return found.replace(tzinfo=dt.UTC) if found.tzinfo is None else found
