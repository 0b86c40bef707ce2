"""Bring a database up to date before it is used: make a missing one, back up and migrate an older one."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError

from plaitlog.models.errors import DatabaseError, Finding, NewerDatabaseError
from plaitlog.service.backups.files import BackupPlace, place_of
from plaitlog.service.database import open_engine, plain_error
from plaitlog.service.revisions import current_revision, known_revisions, migrate_to, shown_name
from plaitlog.service.settings import BACKUPS_KEPT

HEAD: Final = "0007"
"""The revision this version works with: a constant, so that most commands need not load alembic."""

_LOCK: Final = 7752_4825  # any number, the same for every process that may migrate a PostgreSQL database


@dataclass(frozen=True, slots=True)
class Migration:
    """What was done to a database: made new, or migrated from ``old`` with a copy kept in ``backup``."""

    kind: Literal["created", "migrated"]
    database: str
    old: str | None = None
    backup: Path | None = None

    def __str__(self) -> str:
        if self.kind == "created":
            return f"made the database {self.database}"
        kept = "" if self.backup is None else f"; it was copied to {self.backup} first"
        return f"migrated {self.database} from revision {self.old} to {HEAD}{kept}"


def ready_engine(
    database: str, *, busy_timeout_s: float = 10.0, backups_kept: int = BACKUPS_KEPT
) -> tuple[Engine, Migration | None]:
    """The engine of a database that is up to date now, and what had to be done for that (None: nothing).

    An older one is backed up before it is migrated.

    Raises
    ------
    NewerDatabaseError
        It was written by a newer version of this program.
    DatabaseError
        It cannot be reached, or holds something else, or cannot be backed up.
    """
    engine = open_engine(database, busy_timeout_s=busy_timeout_s)
    return engine, bring_up_to_date(engine, place_of(engine.url, backups_kept))


def bring_up_to_date(engine: Engine, backups: BackupPlace | None = None) -> Migration | None:
    """Create or migrate the database of ``engine``; quick where there is nothing to do.

    An older one is first copied to ``backups``; without a place for them nothing is copied.
    """
    try:
        with engine.execution_options(read_only=True).connect() as connection:
            if current_revision(connection) == HEAD:
                return None
        return _migrate(engine, backups)
    except DBAPIError as error:
        raise plain_error(engine, error) from error


def _migrate(engine: Engine, backups: BackupPlace | None) -> Migration | None:
    backup = None
    with migrating_connection(engine) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.execute(text(f"SELECT pg_advisory_xact_lock({_LOCK})"))
        old = current_revision(connection)  # again: another process may have migrated meanwhile
        if old == HEAD:
            return None
        if old is not None:
            _refuse_if_newer(engine, old)
            if backups is not None:
                from plaitlog.service.backups.making import back_up

                backup = back_up(engine, backups, "before-migration").file
        migrate_to(connection, HEAD)
        if engine.dialect.name == "sqlite":
            broken = connection.execute(text("PRAGMA foreign_key_check")).first()
            if broken is not None:
                raise DatabaseError(
                    Finding("migration-failed", f"rows of {broken[0]} would be left without their parent")
                )
    return Migration("created" if old is None else "migrated", shown_name(engine), old, backup)


def migrating_connection(engine: Engine) -> Connection:
    """A connection for changing tables. SQLite rebuilds a table to change it, which must cascade nowhere."""
    connection = engine.connect()
    if engine.dialect.name == "postgresql":
        # A serializable transaction would not see what was done while it waited for the lock.
        return connection.execution_options(isolation_level="READ COMMITTED")
    if engine.dialect.name == "sqlite":
        driver = connection.connection.dbapi_connection
        assert isinstance(driver, sqlite3.Connection)
        driver.execute("PRAGMA foreign_keys = 0")
        connection.detach()  # closed, not given back to the pool, with its changed setting
    return connection


def _refuse_if_newer(engine: Engine, revision: str) -> None:
    if revision not in known_revisions():
        raise NewerDatabaseError(
            Finding(
                "newer-database",
                f"{shown_name(engine)} was written by a newer version"
                f" (revision {revision}; known here: {HEAD})",
                "update the program, or name another database; this one was left as it is",
            )
        )
