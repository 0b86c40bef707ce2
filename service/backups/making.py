"""Make a backup while others go on writing: copied, checked and on the disk before it gets its name."""

import datetime as dt
import errno
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from sqlalchemy import Engine

from plaitlog.models.errors import BackupError, Finding
from plaitlog.service.backups.checking import sound_revision
from plaitlog.service.backups.files import (
    MARK,
    SUFFIX,
    UNFINISHED,
    Backup,
    BackupPlace,
    Why,
    flush,
    name_for,
    rotate,
)
from plaitlog.service.backups.row_copy import copy_rows
from plaitlog.service.database import open_engine
from plaitlog.service.revisions import current_revision, migrate_to

_NO_ROOM: Final = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})


def back_up(engine: Engine, place: BackupPlace, why: Why, *, spare: Path | None = None) -> Backup:
    """Put a backup in the database's own place for them, and let older ones go (`rotate`), but for ``spare``.

    Raises
    ------
    BackupError
        It cannot be written, or the database is damaged; no file is left behind.
    """
    made = _make(engine, place.folder, place.stem, why, None)
    rotate(place, spare)
    return made


def back_up_to(engine: Engine, place: BackupPlace, out: Path) -> Backup:
    """Put a backup elsewhere: in a folder, under a name of its own, or in a file that is not there yet.

    Raises
    ------
    BackupError
        As above, or because the file exists.
    """
    if out.is_dir():
        return _make(engine, out, place.stem, "asked", None)
    return _make(engine, out.absolute().parent, place.stem, "asked", out)


def _make(engine: Engine, folder: Path, stem: str, why: Why, out: Path | None) -> Backup:
    made_at = dt.datetime.now(dt.UTC)
    with plain_write_errors(out or folder), unfinished(folder, stem) as part:
        _refuse_existing(out)
        _fill(engine, part)
        revision = sound_revision(part)
        flush(part)
        file = out or folder / name_for(stem, made_at, revision, why)
        _refuse_existing(out)
        os.replace(part, file)  # noqa: PTH105
        flush(folder)
    return Backup(file, made_at, revision, why)


@contextmanager
def unfinished(folder: Path, stem: str) -> Iterator[Path]:
    """A name for a file that nobody takes for a backup; it is gone afterwards unless it was renamed."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(
        dir=folder, prefix=f".{stem}-", suffix=UNFINISHED, delete=False
    ) as stream:
        part = Path(stream.name)
    try:
        yield part
    finally:
        for leftover in (part, *(part.with_name(part.name + tail) for tail in ("-journal", "-wal", "-shm"))):
            leftover.unlink(missing_ok=True)


def _fill(engine: Engine, part: Path) -> None:
    if engine.dialect.name == "sqlite":
        database = Path(str(engine.url.database))
        copy_file(database, part)
        part.chmod(database.stat().st_mode & 0o666)
    else:
        with tempfile.TemporaryDirectory() as folder:
            gathered = Path(folder) / f"gathered{SUFFIX}"
            _from_server(engine, gathered)
            copy_file(gathered, part)
    with closing(sqlite3.connect(part)) as connection:
        connection.execute(f"PRAGMA application_id = {MARK}")


def copy_database(engine: Engine, file: Path) -> None:
    """One committed state of a database of any kind as an SQLite file of the same revision.

    Raises
    ------
    BackupError
        The database cannot be read whole.
    """
    if engine.dialect.name == "sqlite":
        copy_file(Path(str(engine.url.database)), file)
    else:
        _from_server(engine, file)


def copy_file(database: Path, part: Path) -> None:
    """One committed state of an SQLite database as one file; writers go on meanwhile."""
    with closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=rw", uri=True)) as source:
        source.execute("VACUUM INTO ?", (str(part),))


def _from_server(engine: Engine, file: Path) -> None:
    """One committed state of all tables, read in one transaction, at the revision that they are at."""
    snapshot = engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    target_engine = open_engine(str(file))
    try:
        with snapshot.connect() as source, target_engine.begin() as target:
            revision = current_revision(source)
            if revision is None:
                raise BackupError(Finding("nothing-to-back-up", "the database holds no tables yet"))
            migrate_to(target, revision)
            copy_rows(source, target)
    finally:
        target_engine.dispose()


def _refuse_existing(out: Path | None) -> None:
    if out is not None and out.exists():
        raise BackupError(Finding("file-exists", f"{out} is there already", "name another file, or a folder"))


@contextmanager
def plain_write_errors(where: Path) -> Iterator[None]:
    """What the system and SQLite say about a place that cannot be written, in words."""
    try:
        yield
    except OSError as error:
        said = "there is no room for it" if error.errno in _NO_ROOM else str(error.strerror)
        raise _not_made(where, said) from error
    except sqlite3.OperationalError as error:
        said = str(error)
        if "full" in said or "disk I/O" in said:
            said = f"the disk has no room left for it, or fails ({error})"
        raise _not_made(where, said) from error
    except sqlite3.DatabaseError as error:
        raise BackupError(
            Finding("database-damaged", f"no backup can be made: {error}", "plaitlog doctor says more")
        ) from error


def _not_made(where: Path, said: str) -> BackupError:
    return BackupError(
        Finding(
            "backup-not-made",
            f"no backup could be written to {where}: {said}",
            "check folder and room, or name another place; nothing was changed",
        )
    )
