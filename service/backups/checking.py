"""Is a file a sound copy of a workshop? Asked of every backup when it is made and before it is restored."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from plaitlog.models.errors import BackupError, Finding

_OURS: Final = frozenset({"alembic_version", "cords", "layers", "readings", "whips"})
"""Tables that a workshop has had since the first revision."""


def sound_revision(file: Path) -> str:
    """The revision of a sound copy of a workshop. The file is only read, and nothing is put beside it.

    Raises
    ------
    BackupError
        It is missing, empty, damaged or of another program.
    """
    if not file.is_file() or not os.access(file, os.R_OK):
        what = "cannot be read" if file.exists() else "is not there"
        raise refused(file, what, "check the path")
    if file.stat().st_size == 0:
        raise refused(file, "is empty")
    try:
        with closing(opened_to_read(file)) as connection:
            return _revision(file, connection)
    except sqlite3.DatabaseError as error:
        what = "is not a backup" if error.sqlite_errorname == "SQLITE_NOTADB" else f"is damaged ({error})"
        raise refused(file, what) from error


def counted(file: Path) -> tuple[int, int]:
    """How many whips and readings a sound copy holds."""
    with closing(opened_to_read(file)) as connection:
        row = connection.execute("SELECT (SELECT count(*) FROM whips), (SELECT count(*) FROM readings)")
        whips, readings = row.fetchone()
    return int(whips), int(readings)


def opened_to_read(file: Path) -> sqlite3.Connection:
    """A connection that cannot write; a file without a writer's log beside it is taken as it stands."""
    alone = not any(file.with_name(file.name + tail).exists() for tail in ("-wal", "-journal"))
    mode = "mode=ro&immutable=1" if alone else "mode=ro"
    connection = sqlite3.connect(f"{file.absolute().as_uri()}?{mode}", uri=True, isolation_level=None)
    connection.execute("PRAGMA trusted_schema = 0")
    return connection


def _revision(file: Path, connection: sqlite3.Connection) -> str:
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    if not tables >= _OURS:
        what = "holds no records" if not tables else f"is a database of another program ({min(tables)}, ...)"
        raise refused(file, what)
    faults = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(1)")]
    if faults != ["ok"]:
        raise refused(file, f"is damaged ({faults[0]})")
    orphan = connection.execute("PRAGMA foreign_key_check").fetchone()
    if orphan is not None:
        raise refused(file, f"is damaged (rows of {orphan[0]} without their parent)")
    row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    if row is None:
        raise refused(file, "holds no records")
    return str(row[0])


def refused(
    file: Path, what: str, remedy: str = "name another file: plaitlog backups lists them"
) -> BackupError:
    return BackupError(Finding("backup-refused", f"{file} {what}", f"{remedy}; nothing was changed"))
