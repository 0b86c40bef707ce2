"""Plans: from wanted diameters to strand counts, drops and cord lengths."""

from dataclasses import replace
from typing import Annotated, Final

from fastapi import Query

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, answers, body, router
from plaitlog.service.api.parameters import Database, Name
from plaitlog.service.database import reading
from plaitlog.service.schemas.beside_plan import BesidePlanOut
from plaitlog.service.schemas.plan_answer import PlanOut
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.planning.beside_plan import beside_plan
from plaitlog.service.usecases.planning.beside_words import layers_otherwise, whole
from plaitlog.service.usecases.planning.plan_json import told_json
from plaitlog.service.usecases.planning.planning import bench_of, plan_for, plans_for
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.shown_units import ShownUnits

routes = router("plans")
MOST_WORK: Final = 2.5e8
"""Nobody keeps the server busy for more than some ten seconds with one question."""
CHOICES: Final = 6
"""About so many plans are made where they are wanted side by side."""
STOCK_WHIP: Final = {
    "maker": "Orrin",
    "pattern": "stock whip",
    "thong_length": "5 ft 6 in",
    "handle_length": "0 in",
    "layers": [{"role": "core", "cord": "Ridge 4 mm"}, {"role": "overlay", "cord": "Ridge 4 mm"}],
}
LIKE: Final = {"target": {"like": "2026-014"}, "thong_length": "5 ft", "layers": STOCK_WHIP["layers"]}


@routes.post(
    "",
    summary="Plan a whip",
    responses=answers(PlanOut, "The plan, in mm and g.", 404, 409, *BODY),
    openapi_extra=body("PlanSpec", stock_whip=STOCK_WHIP, like=LIKE),
)
def plan(
    database: Database,
    typed: JsonObject,
    choices: Annotated[bool, Query(description="Also tell other good plans, side by side.")] = False,
) -> Answer:
    """The drops of strands that follow the wanted diameters best, by the fit in force; nothing is stored.

    What is left open is chosen; what the rules forbid is planned at the nearest that they allow, and named
    in the findings. So many open choices that they would take long are refused.
    """
    with reading(database) as session:
        bench = bench_of(session, typed)
    rules = replace(bench.order.asked.rules, most_work=MOST_WORK / (CHOICES if choices else 1))
    asked = replace(bench.order.asked, rules=rules)
    bench = replace(bench, order=replace(bench.order, asked=asked))
    return Answer(told_json(plans_for(bench) if choices else plan_for(bench)))


@routes.get(
    "/{label:name}",
    summary="One whip beside its plan",
    responses=answers(BesidePlanOut, "The whip beside the plan it was made from.", 404),
)
def beside(database: Database, label: Name) -> Answer:
    """Where a whip came out otherwise than was planned when it was put on the bench, and why."""
    with reading(database) as session:
        whip = workshop.whip(session, label)
        found = beside_plan(fit_in_force(session), whip, workshop.cords_by_name(session))
    if found is None:
        raise NotFoundError(Finding("no-plan-kept", f"no plan is kept with {label}", "start it from a plan"))
    shown = ShownUnits("mm", "mm")
    return Answer(
        {
            "readings": found.to_json(),
            "otherwise": [line.strip() for line in layers_otherwise(found, whip, shown)],
            "whole": [line.strip() for line in whole(found, whip, shown)],
        }
    )
