"""Put the records of a backup in the place of those in a database: all of them, or nothing.

Rows are replaced inside one transaction of the database itself, and never a file under an open connection:
whoever has the database open sees the old records until the new ones are committed, and a process that is
killed on the way leaves the old ones. What was there is backed up while the writers' lock is held, so that
nothing committed falls between the two.
"""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine, delete, text
from sqlalchemy.exc import DBAPIError

from plaitlog.models.errors import BackupError, Finding, NewerDatabaseError
from plaitlog.service.backups.checking import opened_to_read, refused, sound_revision
from plaitlog.service.backups.damaged import set_aside_if_damaged
from plaitlog.service.backups.files import UNPACKED, Backup, BackupPlace, place_of
from plaitlog.service.backups.making import back_up, plain_write_errors
from plaitlog.service.backups.row_copy import NOT_COPIED, copy_rows, tables_of
from plaitlog.service.database import database_url, open_engine, plain_error
from plaitlog.service.migrate import HEAD, bring_up_to_date, migrating_connection, ready_engine
from plaitlog.service.revisions import known_revisions
from plaitlog.service.settings import BACKUPS_KEPT


@dataclass(frozen=True, slots=True)
class Restored:
    """What was done: the file, its revision, and what brings the former records back.

    ``before`` is None where there were none, or where the database was damaged: then its file was moved to
    ``set_aside``.
    """

    file: Path
    revision: str
    before: Backup | None
    set_aside: Path | None = None


def restore(
    database: str, file: Path, *, busy_timeout_s: float = 10.0, backups_kept: int = BACKUPS_KEPT
) -> Restored:
    """Replace all records of a database by those of a backup; it is made where it is missing.

    A file of an older revision is migrated first, as a copy. Anything that is wrong with the file is found
    before the database is touched.

    Raises
    ------
    BackupError
        The file is missing, empty, damaged, of another program, or the database itself; or what is there
        now cannot be backed up.
    NewerDatabaseError
        The file, or what is in the database now, was written by a newer version.
    DatabaseError
        The database cannot be reached or is of another program.
    """
    url = database_url(database)
    place = place_of(url, backups_kept)
    if place is None:
        raise refused(file, "cannot be restored into a database in memory", "name a file")
    if url.get_backend_name() == "sqlite" and _same(file, Path(str(url.database))):
        raise refused(file, "is the database itself")
    revision = check(file)
    with plain_write_errors(place.folder), _made_ready(file, place.folder) as ready:
        set_aside = set_aside_if_damaged(url, place)
        engine, migration = ready_engine(database, busy_timeout_s=busy_timeout_s, backups_kept=backups_kept)
        fresh = migration is not None and migration.kind == "created"
        try:
            before = _replace(engine, None if fresh else place, ready, file)
        finally:
            engine.dispose()
    return Restored(file, revision, before, set_aside)


def _replace(engine: Engine, place: BackupPlace | None, ready: Path, file: Path) -> Backup | None:
    try:
        if engine.dialect.name == "sqlite":
            return _replace_in_file(engine, place, ready, file)
        return _replace_on_server(engine, place, ready, file)
    except DBAPIError as error:
        raise plain_error(engine, error) from error
    except sqlite3.DatabaseError as error:
        raise plain_error(engine, DBAPIError("", None, error)) from error


def check(file: Path) -> str:
    """The revision of a file that can be restored; otherwise BackupError or NewerDatabaseError."""
    revision = sound_revision(file)
    if revision not in known_revisions():
        raise NewerDatabaseError(
            Finding(
                "newer-backup",
                f"{file} was written by a newer version (revision {revision}; known here: {HEAD})",
                "update the program; nothing was changed",
            )
        )
    return revision


def _same(file: Path, database: Path) -> bool:
    return file.exists() and database.exists() and file.samefile(database)


@contextmanager
def _made_ready(file: Path, folder: Path) -> Iterator[Path]:
    """A private copy of the file at the present revision."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix=UNPACKED) as name:
        copy = Path(name) / "workshop.db"
        source = opened_to_read(file)
        try:
            source.execute("VACUUM INTO ?", (str(copy),))
        except sqlite3.DatabaseError as error:
            if "full" in str(error) or "disk I/O" in str(error):
                raise
            raise refused(file, f"is damaged ({error})") from error
        finally:
            source.close()
        engine = open_engine(str(copy))
        try:
            bring_up_to_date(engine)
        finally:
            engine.dispose()
        sound_revision(copy)
        yield copy


def _replace_in_file(engine: Engine, place: BackupPlace | None, ready: Path, file: Path) -> Backup | None:
    with migrating_connection(engine) as connection:
        driver = connection.connection.dbapi_connection
        assert isinstance(driver, sqlite3.Connection)
        driver.execute("PRAGMA query_only = 0")  # the pool may hand out what was last used for looking
        driver.execute("ATTACH ? AS restored", (str(ready),))
        driver.execute("BEGIN IMMEDIATE")
        try:
            _refuse_if_moved_on(driver.execute("SELECT version_num FROM alembic_version").fetchone()[0])
            before = _backed_up(engine, place, file)
            _replace_rows(driver)
            assert driver.execute("PRAGMA main.foreign_key_check").fetchone() is None
            driver.execute("COMMIT")
        except BaseException:
            driver.execute("ROLLBACK")
            raise
    return before


def _replace_rows(driver: sqlite3.Connection) -> None:
    """All rows of ``main`` by those of ``restored``, keys as they are; no key is ever given twice."""
    tables = (
        "SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' AND name != ?"
    )
    for (table,) in driver.execute(tables, (NOT_COPIED,)).fetchall():
        named = driver.execute("SELECT name FROM pragma_table_info(?, 'main')", (table,))
        columns = ", ".join(f'"{name}"' for (name,) in named)
        driver.execute(f'DELETE FROM main."{table}"')
        driver.execute(f'INSERT INTO main."{table}" ({columns}) SELECT {columns} FROM restored."{table}"')
    for table, last in driver.execute("SELECT name, seq FROM restored.sqlite_sequence").fetchall():
        driver.execute("UPDATE main.sqlite_sequence SET seq = max(seq, ?) WHERE name = ?", (last, table))


def _replace_on_server(engine: Engine, place: BackupPlace | None, ready: Path, file: Path) -> Backup | None:
    """The lock comes before anything is read, so that the transaction sees what was committed till then."""
    source_engine = open_engine(str(ready))
    try:
        with engine.connect() as looking:
            tables = tables_of(looking)
        with source_engine.connect() as source, engine.begin() as target:
            names = ", ".join(f'"{table.name}"' for table in tables)
            target.execute(text(f"LOCK TABLE {names} IN EXCLUSIVE MODE"))
            _refuse_if_moved_on(target.execute(text("SELECT version_num FROM alembic_version")).scalar())
            before = _backed_up(engine, place, file)
            for table in reversed(tables):
                target.execute(delete(table))
            copy_rows(source, target)
    finally:
        source_engine.dispose()
    return before


def _backed_up(engine: Engine, place: BackupPlace | None, file: Path) -> Backup | None:
    """What is there now; the file that is to take its place is not rotated away meanwhile."""
    return None if place is None else back_up(engine, place, "before-restore", spare=file)


def _refuse_if_moved_on(revision: object) -> None:
    if revision != HEAD:
        raise BackupError(
            Finding(
                "database-moved-on", f"the database has come to revision {revision} meanwhile", "try again"
            )
        )
