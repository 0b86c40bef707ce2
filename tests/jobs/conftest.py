"""Jobs on a database of both kinds, and patience for what processes of their own do."""

import time
from collections.abc import Callable, Iterator

import pytest
from sqlalchemy import Engine

from plaitlog.service.database import reading
from plaitlog.service.jobs import Jobs
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.jobs import Job, one_job
from plaitlog.service.work.kinds import Kind

PATIENCE_S = 40.0
KINDS = {
    "test": Kind("tests.jobs.work", "Test"),
    "light": Kind("tests.jobs.work", "Light test", heavy=False),
}


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < deadline
        time.sleep(0.02)


@pytest.fixture
def engine(empty_database: str) -> Iterator[Engine]:
    found, _ = ready_engine(empty_database)
    yield found
    found.dispose()


@pytest.fixture
def jobs(engine: Engine) -> Iterator[Jobs]:
    made = Jobs(engine, kinds=KINDS)
    made.open()
    yield made
    made.close()


def job(engine: Engine, number: int) -> Job:
    with reading(engine) as session:
        return one_job(session, number)
