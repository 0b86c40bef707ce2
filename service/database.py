"""Engines and transactions: every connection is set up, and asserted to be, before it is used.

SQLite runs in WAL mode with synchronous FULL, so that a committed record survives a power cut as far as
the disk keeps its word. A transaction that reads first and writes later cannot wait for the lock, so
writers take it at once (BEGIN IMMEDIATE). On PostgreSQL writers are serializable and are tried again.
"""

import random
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, TypeVar

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError
from sqlalchemy.orm import Session

from plaitlog.models.errors import BusyDatabaseError, DatabaseError, Finding

Result = TypeVar("Result")

ATTEMPTS: Final = 5
# Serialization failure, deadlock, and a name that another writer has just taken: a writer looks names up
# before it writes, so on a second run it finds the name and decides otherwise.
RETRIED: Final = frozenset({"40001", "40P01", "23505"})
PRAGMAS: Final = {"foreign_keys": 1, "synchronous": 2, "query_only": 0}  # synchronous 2 is FULL


def database_url(text: str) -> URL:
    """A database URL from what was typed: a plain path is an SQLite file, ``postgres://`` is taken too."""
    if "://" not in text:
        return URL.create("sqlite", database=str(Path(text).expanduser().absolute()))
    head, _, tail = text.partition("://")
    if head in {"postgres", "postgresql"}:
        text = f"postgresql+psycopg://{tail}"
    try:
        url = make_url(text)
    except ArgumentError:
        raise _unusable(
            f"{text!r} is not a database URL", "give a file, or postgresql://user@host/name"
        ) from None
    if url.drivername not in {"sqlite", "sqlite+pysqlite", "postgresql+psycopg"}:
        raise _unusable(
            f"databases of the kind {url.drivername!r} are not supported", "use SQLite or PostgreSQL"
        )
    return url


def open_engine(database: str, *, busy_timeout_s: float = 10.0) -> Engine:
    """An engine for a path or URL; the folder of an SQLite file is created, the file not yet touched."""
    url = database_url(database)
    if url.get_backend_name() == "postgresql":
        return create_engine(url, isolation_level="SERIALIZABLE")
    if url.database and url.database != ":memory:":
        try:
            Path(url.database).parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise _unusable(
                f"the folder of {url.database} cannot be made: {error.strerror}", "choose another place"
            ) from error
    engine = create_engine(url, connect_args={"timeout": busy_timeout_s})
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: sqlite3.Connection, record: object) -> None:
    connection.isolation_level = None  # the driver begins nothing by itself; _begin_sqlite does
    cursor = connection.cursor()
    _use_wal(cursor)
    for name, value in PRAGMAS.items():
        cursor.execute(f"PRAGMA {name} = {value}")
    mode = cursor.execute("PRAGMA journal_mode").fetchone()[0]
    found = {name: cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in PRAGMAS}
    cursor.close()
    if mode not in {"wal", "memory"} or found != PRAGMAS:
        raise _unusable(
            f"SQLite would not take its settings here (journal {mode}, {found})",
            "keep the file on a local disk, not on a network share",
        )


def _use_wal(cursor: sqlite3.Cursor) -> None:
    """Switch to WAL, waiting as long as any writer waits: SQLite itself does not wait for this one."""
    deadline = time.monotonic() + cursor.execute("PRAGMA busy_timeout").fetchone()[0] / 1000
    while cursor.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
        else:
            break


def _begin_sqlite(connection: Connection) -> None:
    read_only = connection.get_execution_options().get("read_only", False)
    connection.exec_driver_sql(f"PRAGMA query_only = {int(read_only)}")
    if read_only:
        connection.exec_driver_sql("BEGIN")
        return
    _take_lock(connection)


def _take_lock(connection: Connection) -> None:
    """Begin as a writer, asking again at short, chance intervals until the connection's time is up.

    Left to itself SQLite comes to ask only every tenth of a second, and where several write all the time
    one of them goes away empty-handed for seconds.
    """
    driver = connection.connection.dbapi_connection
    assert isinstance(driver, sqlite3.Connection)
    timeout_ms = driver.execute("PRAGMA busy_timeout").fetchone()[0]
    deadline = time.monotonic() + timeout_ms / 1000
    driver.execute("PRAGMA busy_timeout = 0")
    try:
        while time.monotonic() < deadline:
            try:
                driver.execute("BEGIN IMMEDIATE")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorname != "SQLITE_BUSY":
                    break
            time.sleep(random.uniform(0.001, 0.01))
        connection.exec_driver_sql("BEGIN IMMEDIATE")  # the last try; its failure is told like any other
    finally:
        driver.execute(f"PRAGMA busy_timeout = {timeout_ms}")


@contextmanager
def reading(engine: Engine) -> Iterator[Session]:
    """A session that sees one unchanging state of the records and cannot write."""
    marked = engine.execution_options(read_only=True)
    if engine.dialect.name == "postgresql":
        marked = marked.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    with _plain_errors(engine), Session(marked) as session:
        yield session


@contextmanager
def writing(engine: Engine) -> Iterator[Session]:
    """A session that commits once, when the block ends well, and otherwise leaves no trace."""
    with _plain_errors(engine), Session(engine, expire_on_commit=False) as session:
        yield session
        session.commit()


def write(engine: Engine, work: Callable[[Session], Result]) -> Result:
    """Run ``work`` in a transaction of its own and commit; on a clash with another writer all over again.

    ``work`` may thus run several times; it takes every decision anew from what it reads.
    """
    for attempt in range(1, ATTEMPTS + 1):
        try:
            with writing(engine) as session:
                return work(session)
        except BusyDatabaseError:
            if attempt == ATTEMPTS or engine.dialect.name == "sqlite":  # SQLite has waited already
                raise
            time.sleep(random.uniform(0.0, 0.05 * 2**attempt))
    raise AssertionError("unreachable")


@contextmanager
def _plain_errors(engine: Engine) -> Iterator[None]:
    try:
        yield
    except DBAPIError as error:
        raise plain_error(engine, error) from error


def plain_error(engine: Engine, error: DBAPIError) -> Exception:
    """The project's own error for what a database driver reports; the driver's where that says it all."""
    message = str(error.orig)
    if getattr(error.orig, "sqlstate", None) in RETRIED or "locked" in message or "busy" in message:
        return BusyDatabaseError(
            Finding("database-busy", "somebody else is writing to the records just now", "try again")
        )
    name = engine.url.render_as_string(hide_password=True)
    if engine.dialect.name == "sqlite":
        name = str(engine.url.database)
        for part, text, remedy in _SQLITE_TROUBLE:
            if part in message:
                return DatabaseError(Finding("database-unusable", f"{name} {text}", remedy))
    elif isinstance(error, OperationalError) and error.connection_invalidated is False:
        first = message.strip().splitlines()[0]
        return DatabaseError(
            Finding("database-unreachable", f"{name}: {first}", "check the address and the server")
        )
    return error


_SQLITE_TROUBLE: Final = (
    ("file is not a database", "is not a database", "name another file"),
    ("malformed", "is damaged", "put a backup in its place"),
    ("unable to open", "cannot be opened", "check the path and who may write there"),
    ("readonly", "cannot be written to", "check who may write to the file and its folder"),
    ("disk I/O error", "cannot be read or written: its disk has no room left, or fails", "make room"),
    ("disk is full", "has no room left on its disk", "make room; nothing was written"),
)


def _unusable(text: str, remedy: str) -> DatabaseError:
    return DatabaseError(Finding("database-unusable", text, remedy))
