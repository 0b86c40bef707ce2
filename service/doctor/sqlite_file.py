"""An SQLite database looked at from inside, over connections that cannot write and change no setting."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import Engine, NullPool, create_engine

from plaitlog.service.doctor.check import Check

FAULTS = 3


def connected(file: Path) -> sqlite3.Connection:
    """A connection for looking; like any other it may put SQLite's log beside the file while it is open."""
    connection = sqlite3.connect(f"{file.absolute().as_uri()}?mode=rw", uri=True, isolation_level=None)
    connection.execute("PRAGMA query_only = 1")
    return connection


def there(file: Path, size_bytes: int) -> Check:
    """Whether there is a database at all."""
    if size_bytes == 0:
        return Check("database", "note", f"there is none yet at {file}", "any command makes it")
    if not is_database(file):
        return Check("database", "trouble", f"{file} is not a database", "name another file")
    return Check("database", "ok", f"{file}, {size_bytes / 1e3:,.0f} kB; SQLite {sqlite3.sqlite_version}")


def is_database(file: Path) -> bool:
    """Whether SQLite takes the file for one of its own, sound or not."""
    try:
        with closing(connected(file)) as connection:
            connection.execute("PRAGMA schema_version")
    except sqlite3.DatabaseError as error:
        return error.sqlite_errorname != "SQLITE_NOTADB"
    return True


@contextmanager
def engine_for_looking(file: Path) -> Iterator[Engine]:
    engine = create_engine("sqlite://", creator=lambda: connected(file), poolclass=NullPool)
    yield engine
    engine.dispose()


def settings(file: Path) -> Check:
    """The one setting that is kept in the file; the others are asserted on every connection."""
    with closing(connected(file)) as connection:
        mode = connection.execute("PRAGMA journal_mode").fetchone()[0]
    if mode != "wal":
        return Check("settings", "note", f"journal mode {mode}", "the next command that writes sets WAL")
    return Check(
        "settings", "ok", "journal mode WAL; synchronous FULL and foreign keys are set on every connection"
    )


def integrity(file: Path) -> Check:
    """SQLite's own check of every page and index, and of every row that names another."""
    remedy = "plaitlog backups, then plaitlog restore with the newest that is sound; the damaged file is kept"
    try:
        with closing(connected(file)) as connection:
            faults = [str(row[0]) for row in connection.execute(f"PRAGMA integrity_check({FAULTS})")]
            orphan = connection.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.DatabaseError as error:
        return Check("integrity", "trouble", str(error), remedy)
    if faults != ["ok"]:
        return Check("integrity", "trouble", "; ".join(faults), remedy)
    if orphan is not None:
        return Check("integrity", "trouble", f"rows of {orphan[0]} lack their parent in {orphan[2]}", remedy)
    return Check("integrity", "ok", "every page, index and reference is sound")
