"""A damaged SQLite database is moved away before a backup is restored, so that nothing of it is lost."""

import datetime as dt
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from sqlalchemy import URL

from plaitlog.service.backups.files import STAMP, SUFFIX, BackupPlace, flush

PARTS: Final = ("", "-wal", "-shm")
"""What an SQLite database in WAL mode consists of."""


def set_aside_if_damaged(url: URL, place: BackupPlace) -> Path | None:
    """Move a database file that SQLite calls damaged to the folder of backups; None where it is sound.

    A file that is no SQLite database at all stays: it may be somebody's letter.
    """
    if url.get_backend_name() != "sqlite" or not is_damaged(Path(str(url.database))):
        return None
    file = Path(str(url.database))
    stamp = dt.datetime.now(dt.UTC).strftime(STAMP)
    aside = place.folder / f"{place.stem}-{stamp}-damaged{SUFFIX}"
    place.folder.mkdir(parents=True, exist_ok=True)
    for part in reversed(PARTS):
        source = file.with_name(file.name + part)
        if source.exists():
            source.rename(aside.with_name(aside.name + part))
    flush(file.parent)
    return aside


def is_damaged(file: Path) -> bool:
    """Whether an SQLite database fails SQLite's own check; False where there is none.

    The file is never opened but by SQLite: closing it would let go of the locks that this process holds on
    it through other connections (SQLite, "How To Corrupt An SQLite Database File", section 2.2).
    """
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=rw", uri=True)) as connection:
            return bool(connection.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok")
    except sqlite3.DatabaseError as error:
        return error.sqlite_errorname.startswith("SQLITE_CORRUPT")
