"""One look beside the fit in force, in a workshop so large that it takes a while; the answer is kept."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.service.database import reading
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.fit_checks import CHECKS
from plaitlog.service.work.kinds import Finish, Tell


def work(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    """Work out ``asked["what"]``, one of ``CHECKS``."""
    what = asked["what"]
    tell("goes through the records", 0.1)
    with reading(engine) as session:
        found = CHECKS[what](session, preferences().shown)

    def keep(session: Session) -> Mapping[str, Any]:
        return {"content": found, "address": f"/fit/{what}"}

    return keep
