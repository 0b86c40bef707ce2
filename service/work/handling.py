"""What goes with good ratings, in a workshop so large that the answer takes a while."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.service.database import reading
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.handling.asking import answer_content, asked_of
from plaitlog.service.work.kinds import Finish, Tell

STEPS = {"taper parameters": (0.0, 0.4), "correlations": (0.4, 0.9), "all parameters at once": (0.9, 1.0)}
"""Where each part of the work begins and ends, as shares of all of it; measured on ten thousand whips."""


def work(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    """Answer ``asked["typed"]``; the answer is the result."""

    def progress(what: str, done: int, of: int) -> None:
        begins, ends = STEPS[what]
        tell(what, begins + (ends - begins) * done / max(of, 1))

    with reading(engine) as session:
        question = asked_of(session, asked["typed"])
        answer = answer_content(session, question, preferences().shown, progress)

    def finish(session: Session) -> dict[str, Any]:
        return {"answer": answer, "address": f"/handling?{urlencode(asked['typed'])}"}

    return finish
