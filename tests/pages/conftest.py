"""Clients that ask for pages as a browser does: empty, of the examples, of the demo with a fit."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.api.conftest import fill
from tests.api.server import serving
from tests.pages.workshops import demo_copy

HTML = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestClient]:
    """Pages of a workshop with nothing in it."""
    with serving(str(tmp_path / "plaitlog.db")) as client:
        client.headers.update(HTML)
        yield client


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """Pages of a workshop with the records of the examples, and no fit."""
    fill(str(tmp_path / "plaitlog.db"))
    with serving(str(tmp_path / "plaitlog.db")) as client:
        client.headers.update(HTML)
        yield client


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[TestClient]:
    """Pages of the demo with a fit; each test has a copy of its own."""
    with serving(demo_copy(tmp_path)) as client:
        client.headers.update(HTML)
        yield client


@pytest.fixture(scope="module")
def looked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The same, shared by the tests of a module that only look."""
    with serving(demo_copy(tmp_path_factory.mktemp("looked"))) as client:
        client.headers.update(HTML)
        yield client
