"""Jobs: long work as rows that one may leave and come back to.

A row moves from waiting to running to one end (done, failed, cancelled, interrupted) and from an end nowhere.
Every step below asks for the state it comes from, so that whoever is late changes nothing.
"""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import CursorResult, case, select, update
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.models.tables import JobRow

LIVE: Final = ("waiting", "running")
LEFT: Final = "the server was ended meanwhile; nothing of it was kept, start it again"


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of long work.

    state : waiting, running, done, failed, cancelled or interrupted. doing : what goes on, or how it ended.
    done_share : in 0..1, never falling. asked, result : plain data; ``result`` is None until it is done.
    """

    number: int
    kind: str
    state: str
    doing: str
    done_share: float
    asked: Mapping[str, Any]
    result: Mapping[str, Any] | None
    created_at: dt.datetime
    changed_at: dt.datetime

    @property
    def live(self) -> bool:
        """Whether it waits or runs."""
        return self.state in LIVE


def one_job(session: Session, number: int) -> Job:
    """One job; NotFoundError where there is none of this number."""
    row = session.get(JobRow, number)
    if row is None:
        raise NotFoundError(
            Finding("job-not-found", f"there is no job {number}", "see the list of the latest jobs")
        )
    return _job(row)


def latest_jobs(session: Session, kind: str | None = None, limit: int = 20) -> list[Job]:
    """The latest jobs, of one kind or of all, the latest first."""
    wanted = select(JobRow).order_by(JobRow.id.desc()).limit(limit)
    if kind is not None:
        wanted = wanted.where(JobRow.kind == kind)
    return [_job(row) for row in session.scalars(wanted)]


def live_job(session: Session, kind: str) -> Job | None:
    """The first job of a kind that waits or runs."""
    wanted = select(JobRow).where(JobRow.kind == kind, JobRow.state.in_(LIVE)).order_by(JobRow.id).limit(1)
    row = session.scalars(wanted).one_or_none()
    return None if row is None else _job(row)


def ask_for(session: Session, kind: str, asked: Mapping[str, Any]) -> tuple[int, bool]:
    """Note that work is wanted: its number, and whether it is new.

    What is asked for a second time while it waits or runs is the same job: nobody wants it twice.
    """
    wanted = select(JobRow).where(JobRow.kind == kind, JobRow.state.in_(LIVE))
    for row in session.scalars(wanted):
        if row.asked == dict(asked):
            return row.id, False
    row = JobRow(kind=kind, state="waiting", doing="waits for its turn", done_share=0.0, asked=dict(asked))
    session.add(row)
    session.flush()
    return row.id, True


def take_up(session: Session, number: int) -> bool:
    """Let a waiting job run; False where it waits no longer."""
    return _changed(session, number, ("waiting",), state="running", doing="begins")


def note_progress(session: Session, number: int, words: str, done_share: float) -> bool:
    """Note how far a running job is (0..1; less than before is not taken); False where it no longer runs."""
    share = min(1.0, max(0.0, done_share))
    further = case((JobRow.done_share < share, share), else_=JobRow.done_share)
    return _changed(session, number, ("running",), doing=words, done_share=further)


def finish(session: Session, number: int) -> bool:
    """Mark a running job done; False where it no longer runs, and then nothing of it may be kept."""
    return _changed(session, number, ("running",), state="done", doing="done", done_share=1.0)


def keep_result(session: Session, number: int, result: Mapping[str, Any]) -> None:
    """Keep what came of a job, in the transaction that marks it done."""
    _changed(session, number, ("done",), result=dict(result))


def end(session: Session, number: int, state: str, words: str) -> bool:
    """Let a job end without a result (failed, cancelled, interrupted); False where it had ended already."""
    return _changed(session, number, LIVE, state=state, doing=words)


def live_jobs(session: Session) -> list[int]:
    """Numbers of the jobs that wait or run."""
    return list(session.scalars(select(JobRow.id).where(JobRow.state.in_(LIVE)).order_by(JobRow.id)))


def interrupt(session: Session, numbers: Collection[int]) -> None:
    """Mark jobs that nobody works on any more, as far as they have not ended."""
    left = JobRow.state.in_(LIVE), JobRow.id.in_(numbers)
    session.execute(update(JobRow).where(*left).values(state="interrupted", doing=LEFT))


def _changed(session: Session, number: int, states: Sequence[str], **values: Any) -> bool:
    step = update(JobRow).where(JobRow.id == number, JobRow.state.in_(states)).values(**values)
    done = session.execute(step, execution_options={"synchronize_session": False})
    assert isinstance(done, CursorResult)
    return done.rowcount == 1


def _job(row: JobRow) -> Job:
    return Job(
        row.id,
        row.kind,
        row.state,
        row.doing,
        row.done_share,
        row.asked,
        row.result,
        row.created_at,
        row.changed_at,
    )
