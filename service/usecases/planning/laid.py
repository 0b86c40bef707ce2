"""A plan that was made before, told anew from its question and its layers: nothing is searched for."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy.orm import Session

from plaitlog.service.usecases.changes.editing_whips import read_whip
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.planning.plan import finish
from plaitlog.service.usecases.planning.planning import Told, told
from plaitlog.service.usecases.planning.starting import record_of


def laid_plan(session: Session, plan: Mapping[str, Any], label: str | None = None) -> Told:
    """What is expected of a plan (``spec`` and ``layers``, as in plan.json) by the fit in force.

    label : of the whip that is made from it; None: as the plan is called.

    Raises
    ------
    InputError, RecordError, NotFoundError
        Where it is no plan, or what it names is no longer in the workshop.
    """
    named = (plan.get("spec") or {}).get("label") or "plan"
    if label is None:
        # A plan tells patterns, it does not rest on them; of a whip they are what is plaited.
        layers = plan.get("layers") or ()
        bare = [{**one, "pattern": None} if isinstance(one, Mapping) else one for one in layers]
        plan = {**plan, "layers": bare}
    bench, record = record_of(session, str(named), plan)
    laid = placed(read_whip(record)[0])
    planned = bench.order.whip
    whip = replace(laid, label=label) if label else replace(laid, label=planned.label, status=planned.status)
    made = finish(
        bench.in_force, whip, bench.order.asked, bench.cords, stock_m=bench.stock_m, pace=bench.pace
    )
    return told(bench, made)
