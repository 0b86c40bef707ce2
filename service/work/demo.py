"""Fill an empty workshop with the invented one and make a fit of it: both or neither."""

import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import DatabaseError, Finding
from plaitlog.service.database import reading, write
from plaitlog.service.filling import fill_gathered
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.fitting import WorkedOut, gather, store, weighed_whips, work_out
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.observing import fingerprint_of
from plaitlog.service.usecases.overview import last_reading
from plaitlog.service.usecases.workshop import is_empty
from plaitlog.service.work.kinds import Finish, Tell

READ, FITTED = 0.15, 0.95
"""Shares of the whole at which its whips are read, and the fit is made."""
NOT_EMPTY = Finding(
    "not-empty",
    "something is recorded here already, and the demo is kept apart from it",
    "look at the whips and cords that are here",
)


def work(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    """Work the fit out in a copy that is thrown away; the workshop at hand is filled at the end, at once.

    asked : ``evidence`` false leaves out how good the fit is.
    """
    from plaitlog.seed_demo.workshop import seed

    with reading(engine) as session:
        _refuse_unless_empty(session)
    tell("makes up a workshop", 0.02)
    worked = _worked_out(tell, with_evidence=bool(asked.get("evidence", True)))
    tell("fills the workshop", FITTED)

    def fill(session: Session) -> dict[str, Any]:
        _refuse_unless_empty(session)
        made = seed(session)
        change = latest_change(session)
        here = replace(worked, fingerprint=fingerprint_of(session), last_reading=last_reading(session))
        store(session, here)
        return {"address": "/", "change": change, "whips": made.whips, "cords": made.cords}

    return fill


def _worked_out(tell: Tell, *, with_evidence: bool) -> WorkedOut:
    from plaitlog.seed_demo.workshop import seed

    with tempfile.TemporaryDirectory(prefix="plaitlog-demo-") as folder:
        copy, _ = ready_engine(str(Path(folder) / "demo.db"))
        try:
            write(copy, seed)
            tell("reads its whips", 0.1)
            fill_gathered(copy)
            with reading(copy) as session:
                gathered, weighed = gather(session), weighed_whips(session)

            def told(words: str, share: float) -> None:
                tell(words, READ + (FITTED - READ) * share)

            return work_out(gathered, weighed, with_evidence=with_evidence, jobs=1, tell=told)
        finally:
            copy.dispose()


def _refuse_unless_empty(session: Session) -> None:
    if not is_empty(session):
        raise DatabaseError(NOT_EMPTY)
