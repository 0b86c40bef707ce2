"""A server on a fresh workshop, empty or with the records of the examples."""

import shutil
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from tests.api.server import serving
from tests.usecases.examples import WORKSHOP


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestClient]:
    """A client of a workshop with nothing in it."""
    with serving(str(tmp_path / "plaitlog.db")) as client:
        yield client


@pytest.fixture(scope="module")
def blank(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A client that the tests of a module share: they leave each other alone."""
    with serving(str(tmp_path_factory.mktemp("blank") / "plaitlog.db")) as client:
        yield client


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """A client of a workshop with the records of the examples."""
    fill(str(tmp_path / "plaitlog.db"))
    with serving(str(tmp_path / "plaitlog.db")) as client:
        yield client


@cache
def _filled() -> Path:
    file = Path(tempfile.mkdtemp(prefix="plaitlog-tests-")) / "plaitlog.db"
    _take_examples(str(file))
    return file


def _take_examples(database: str) -> None:
    engine, _ = ready_engine(database)
    write(engine, lambda session: take_records(session, WORKSHOP))
    engine.dispose()


def fill(database: str) -> None:
    """A workshop with the records of the examples, where nothing is yet; on either kind of database."""
    if "://" in database:
        _take_examples(database)
    else:
        shutil.copy(_filled(), database)
