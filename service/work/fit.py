"""A fit of the recorded whips as a job: the same steps as from the command line or by a program."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import FitError
from plaitlog.service.database import reading
from plaitlog.service.filling import fill_gathered
from plaitlog.service.usecases.fitting import NOTHING_TO_LEARN, gather, store, weighed_whips, work_out
from plaitlog.service.work.kinds import Finish, Tell

READ = 0.1
"""What reading the records is told to take of the whole; the rest is for the fit and its evidence."""


def work(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    """Learn from every recorded reading.

    asked : ``evidence``, whether whips, cords and makers are held out in turn.

    Raises
    ------
    FitError
        No reading on a known stack is recorded.
    """
    tell("reads the whips", 0.0)

    def filled(doing: str, done: int, total: int | None) -> None:
        tell(f"reads whip {done} of {total}", READ * done / max(1, total or 1))

    fill_gathered(engine, filled)
    with reading(engine) as session:
        gathered, weighed = gather(session), weighed_whips(session)
    if not len(gathered.readings):
        raise FitError(NOTHING_TO_LEARN)

    def told(words: str, share: float) -> None:
        tell(words, READ + (1 - READ) * share)

    worked = work_out(gathered, weighed, with_evidence=bool(asked["evidence"]), jobs=1, tell=told)

    def keep(session: Session) -> Mapping[str, Any]:
        number = store(session, worked)
        return {"fit": number, "address": f"/fits/{number}"}

    return keep
