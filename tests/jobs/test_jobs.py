"""Long work in processes of their own: it ends well, in words, or at once; never half, never hanging."""

import os
from pathlib import Path

import pytest
from sqlalchemy import Engine, select

from plaitlog.models.errors import NotFoundError
from plaitlog.models.tables import DraftRow
from plaitlog.service.database import reading, write
from plaitlog.service.jobs import Jobs
from plaitlog.service.usecases.jobs import ask_for, note_progress, take_up
from tests.jobs.conftest import KINDS, job, until

ONE_KIND = pytest.mark.parametrize("empty_database", ["sqlite"], indirect=True)
"""For what is the same on any kind of database."""


def written(engine: Engine) -> set[str]:
    with reading(engine) as session:
        return set(session.scalars(select(DraftRow.token)))


def test_what_it_writes_and_that_it_is_done_come_together(engine: Engine, jobs: Jobs, tmp_path: Path) -> None:
    number = jobs.start("test", {"folder": str(tmp_path), "name": "a"})
    (tmp_path / "go").touch()
    until((tmp_path / "wrote-a").exists)
    assert (job(engine, number).state, written(engine)) == ("running", set())
    (tmp_path / "commit").touch()
    until(lambda: not job(engine, number).live)
    found = job(engine, number)
    assert (found.state, found.done_share, found.doing) == ("done", 1.0, "done")
    assert found.result == {"address": f"/jobs/{number}?as=json", "name": "a"}
    assert written(engine) == {"a"}
    jobs.cancel(number)
    assert job(engine, number).state == "done", "what is done stays done"


@ONE_KIND
def test_progress_never_falls(engine: Engine, jobs: Jobs, tmp_path: Path) -> None:
    asked = {"folder": str(tmp_path), "name": "a", "shares": [0.2, 0.6, 0.3, 0.7]}
    number = jobs.start("test", asked)
    seen: list[float] = []
    (tmp_path / "go").touch()
    (tmp_path / "commit").touch()
    until(lambda: seen.append(job(engine, number).done_share) or not job(engine, number).live)  # type: ignore[func-returns-value]
    assert seen == sorted(seen)
    assert {0.2, 0.6, 0.7} & set(seen)


@ONE_KIND
def test_a_share_outside_of_its_range_is_held_within(engine: Engine) -> None:
    number, _ = write(engine, lambda session: ask_for(session, "test", {}))
    write(engine, lambda session: take_up(session, number))
    for told, kept in ((-1.0, 0.0), (0.5, 0.5), (0.4, 0.5), (7.0, 1.0)):
        assert write(engine, lambda session, told=told: note_progress(session, number, "x", told))
        assert job(engine, number).done_share == kept


@ONE_KIND
@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ("refused", "there is no rope here; bring some"),
        ("broken", "ZeroDivisionError: nothing left"),
        ("killed", "ended by signal 9"),
    ],
)
def test_a_failure_is_told_in_words(
    engine: Engine, jobs: Jobs, tmp_path: Path, ends: str, words: str
) -> None:
    number = jobs.start("test", {"folder": str(tmp_path), "name": "a", "ends": ends})
    until(lambda: not job(engine, number).live)
    assert job(engine, number).state == "failed"
    assert words in job(engine, number).doing


@pytest.mark.parametrize("writes", [False, True])
def test_cancelled_at_once_and_nothing_is_kept(
    engine: Engine, jobs: Jobs, tmp_path: Path, writes: bool
) -> None:
    number = jobs.start("test", {"folder": str(tmp_path), "name": "a"})
    if writes:
        (tmp_path / "go").touch()
    until((tmp_path / ("wrote-a" if writes else "began-a")).exists)
    process = int((tmp_path / "began-a").read_text())
    jobs.cancel(number)
    assert job(engine, number).state == "cancelled"
    until(lambda: not runs(process))
    (tmp_path / "commit").touch()
    assert written(engine) == set()
    assert job(engine, number).state == "cancelled", "nobody calls it failed afterwards"


@ONE_KIND
def test_one_heavy_job_at_a_time_and_a_light_one_beside_it(
    engine: Engine, jobs: Jobs, tmp_path: Path
) -> None:
    first, second, third = (
        jobs.start("test", {"folder": str(tmp_path), "name": name}) for name in ("a", "b", "c")
    )
    jobs.start("light", {"folder": str(tmp_path), "name": "light"})
    until((tmp_path / "began-light").exists)
    until((tmp_path / "began-a").exists)
    assert job(engine, second).state == "waiting"
    jobs.cancel(second)
    (tmp_path / "go").touch()
    (tmp_path / "commit").touch()
    until(lambda: not job(engine, third).live)
    assert [job(engine, n).state for n in (first, second, third)] == ["done", "cancelled", "done"]
    assert not (tmp_path / "began-b").exists()


def test_asked_for_twice_is_one_job(engine: Engine, jobs: Jobs, tmp_path: Path) -> None:
    asked = {"folder": str(tmp_path), "name": "a"}
    first = jobs.start("test", asked)
    assert jobs.start("test", asked) == first
    jobs.cancel(first)
    assert jobs.start("test", asked) != first, "once it has ended it may be asked for again"


def test_a_server_that_ends_leaves_no_process_and_no_job_that_seems_to_run(
    engine: Engine, jobs: Jobs, tmp_path: Path
) -> None:
    first, second = (jobs.start("test", {"folder": str(tmp_path), "name": name}) for name in ("a", "b"))
    until((tmp_path / "began-a").exists)
    process = int((tmp_path / "began-a").read_text())
    jobs.close()
    assert [job(engine, n).state for n in (first, second)] == ["interrupted", "interrupted"]
    assert not runs(process)


def test_what_another_server_left_is_interrupted_and_its_process_keeps_nothing(
    engine: Engine, jobs: Jobs, tmp_path: Path
) -> None:
    number = jobs.start("test", {"folder": str(tmp_path), "name": "a"})
    until((tmp_path / "began-a").exists)
    Jobs(engine, kinds=KINDS).open()
    assert job(engine, number).state == "interrupted"
    (tmp_path / "go").touch()
    (tmp_path / "commit").touch()
    until(lambda: not runs(int((tmp_path / "began-a").read_text())))
    assert (job(engine, number).state, written(engine)) == ("interrupted", set())


@ONE_KIND
def test_no_job_of_this_number(engine: Engine, jobs: Jobs) -> None:
    with pytest.raises(NotFoundError):
        jobs.cancel(7)


def runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True
