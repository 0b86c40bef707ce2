"""Plan a whip, or again what lies ahead of one on the bench, where that takes longer than one waits."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.service.database import reading
from plaitlog.service.usecases.planning.boards import add_plans, keep_again
from plaitlog.service.usecases.planning.planning import bench_of, plan_for, plans_for
from plaitlog.service.usecases.planning.replanning import Standing, ahead, plan_ahead
from plaitlog.service.work.kinds import Finish, Tell


def work(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    """``asked``: the token of the draft that the plan is put into; ``spec``, ``typed`` and ``beside`` of a
    new plan, or ``replan`` (a label) with ``layer``, ``to_mm`` and ``spec``."""
    if "replan" in asked:
        return _again(engine, asked, tell)
    with reading(engine) as session:
        bench = bench_of(session, asked["spec"])
    tell("every schedule that the rules allow is compared", 0.0)
    told = plans_for(bench, tell) if asked["beside"] else plan_for(bench, tell)

    def finish(session: Session) -> dict[str, Any]:
        numbers = add_plans(session, asked["token"], asked["typed"], asked["spec"], told)
        return {"address": f"/plan/{asked['token']}#plan-{numbers[0]}", "plans": numbers}

    return finish


def _again(engine: Engine, asked: Mapping[str, Any], tell: Tell) -> Finish:
    standing = None if asked["layer"] is None else Standing(asked["layer"], asked["to_mm"])
    with reading(engine) as session:
        found = ahead(session, asked["replan"], asked["spec"], standing)
    words = "every schedule that is still possible is compared"
    tell(words, 0.0)
    again = plan_ahead(found, progress=lambda share: tell(words, share))

    def finish(session: Session) -> dict[str, Any]:
        keep_again(session, asked["token"], again, asked["spec"])
        return {"address": f"/plan/{asked['token']}"}

    return finish
