"""Bring a database up to date before it is used: make a missing one, back up and migrate an older one."""

import datetime as dt
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError

from plaitlog.models.errors import DatabaseError, Finding, NewerDatabaseError
from plaitlog.service.database import open_engine, plain_error

if TYPE_CHECKING:
    from alembic.config import Config

HEAD: Final = "0001"
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
        kept = "; no copy was made: a server has its own backups"
        if self.backup is not None:
            kept = f"; it was copied to {self.backup} first"
        return f"migrated {self.database} from revision {self.old} to {HEAD}{kept}"


def ready_engine(database: str, *, busy_timeout_s: float = 10.0) -> tuple[Engine, Migration | None]:
    """The engine of a database that is up to date now, and what had to be done for that (None: nothing).

    Raises
    ------
    NewerDatabaseError
        It was written by a newer version of this program.
    DatabaseError
        It cannot be reached, or holds something else.
    """
    engine = open_engine(database, busy_timeout_s=busy_timeout_s)
    return engine, bring_up_to_date(engine)


def bring_up_to_date(engine: Engine) -> Migration | None:
    """Create or migrate the database of ``engine``; quick where there is nothing to do."""
    try:
        with engine.execution_options(read_only=True).connect() as connection:
            if current_revision(connection) == HEAD:
                return None
        return _migrate(engine)
    except DBAPIError as error:
        raise plain_error(engine, error) from error


def current_revision(connection: Connection) -> str | None:
    """The revision a database is at; None for an empty one; DatabaseError where other tables are in it."""
    names = connection.dialect.get_table_names(connection)
    if "alembic_version" in names:
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        if found is not None:
            return str(found)
        names.remove("alembic_version")
    if names:
        raise DatabaseError(
            Finding(
                "foreign-database",
                f"{_name(connection.engine)} holds tables of another program ({names[0]}, ...)",
                "name another database; this one was left as it is",
            )
        )
    return None


def migrate_to(connection: Connection, revision: str) -> None:
    """Run the migrations up to a revision (or down to ``base``) over a live connection, uncommitted."""
    from alembic import command

    config = alembic_config()
    config.attributes["connection"] = connection
    if revision == "base":
        command.downgrade(config, revision)
    else:
        command.upgrade(config, revision)


def alembic_config() -> "Config":
    from alembic.config import Config

    import plaitlog.migrations

    config = Config()
    config.set_main_option(
        "script_location", str(Path(plaitlog.migrations.__file__).parent).replace("%", "%%")
    )
    return config


def _migrate(engine: Engine) -> Migration | None:
    backup = None
    with _migrating_connection(engine) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.execute(text(f"SELECT pg_advisory_xact_lock({_LOCK})"))
        old = current_revision(connection)  # again: another process may have migrated meanwhile
        if old == HEAD:
            return None
        if old is not None:
            _refuse_if_newer(engine, old)
            backup = _back_up(engine, old)
        migrate_to(connection, HEAD)
        if engine.dialect.name == "sqlite":
            broken = connection.execute(text("PRAGMA foreign_key_check")).first()
            if broken is not None:
                raise DatabaseError(
                    Finding("migration-failed", f"rows of {broken[0]} would be left without their parent")
                )
    return Migration("created" if old is None else "migrated", _name(engine), old, backup)


def _migrating_connection(engine: Engine) -> Connection:
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
    from alembic.script import ScriptDirectory

    known = {script.revision for script in ScriptDirectory.from_config(alembic_config()).walk_revisions()}
    if revision not in known:
        raise NewerDatabaseError(
            Finding(
                "newer-database",
                f"{_name(engine)} was written by a newer version (revision {revision}; known here: {HEAD})",
                "update the program, or name another database; this one was left as it is",
            )
        )


def _back_up(engine: Engine, revision: str) -> Path | None:
    """A copy beside an SQLite file, its name saying revision and time; a server has its own backups."""
    if engine.dialect.name != "sqlite" or not engine.url.database or engine.url.database == ":memory:":
        return None
    file = Path(engine.url.database)
    stamp = dt.datetime.now(dt.UTC).strftime("%Y%m%dT%H%M%S.%fZ")
    copy = file.with_name(f"{file.stem}-revision-{revision}-{stamp}{file.suffix}")
    with closing(sqlite3.connect(file)) as source:
        source.execute("VACUUM INTO ?", (str(copy),))
    return copy


def _name(engine: Engine) -> str:
    if engine.dialect.name == "sqlite":
        return str(engine.url.database)
    return engine.url.render_as_string(hide_password=True)
