"""Plan a whip from what it is asked for, by the fit in force; nothing is written to the record."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.calibration.hours import Pace
from plaitlog.models.calibration.prediction import Query
from plaitlog.models.errors import Finding, PlaitlogError
from plaitlog.models.planning.asked import AskedLayer
from plaitlog.models.planning.plain import plain_layers
from plaitlog.models.tables import FitRow
from plaitlog.models.whip import Cord, Layer
from plaitlog.service.schemas.plan_spec import spec_from
from plaitlog.service.usecases.fitting import not_found
from plaitlog.service.usecases.planning.asking import Order, asked_of
from plaitlog.service.usecases.planning.choices import Choice, choices
from plaitlog.service.usecases.planning.miss_words import as_findings
from plaitlog.service.usecases.planning.plan import Plan, finish, make_plan
from plaitlog.service.usecases.predicting import InForce, fit_in_force, stored_fit
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.weighing import expected_or_none
from plaitlog.service.usecases.working_hours import pace_of_workshop
from plaitlog.service.usecases.workshop import cords_by_name, cords_with_stock, whip

MM: Final = ShownUnits("mm", "mm")


@dataclass(frozen=True, slots=True)
class Bench:
    """What plans are made from: the fit, the question, the cords and the metres there are of them, and what
    recorded hours taught."""

    in_force: InForce
    order: Order
    cords: Mapping[str, Cord]
    stock_m: Mapping[str, float]
    pace: Pace


@dataclass(frozen=True, slots=True)
class Told:
    """A plan, the same layers dropped at even distances (None where that cannot be told), and what else there
    is to say. choices : good plans side by side, the plan among them; empty where they are not wanted."""

    bench: Bench
    plan: Plan
    plain: Plan | None
    remarks: tuple[Finding, ...]
    choices: tuple[Choice, ...] = ()

    @property
    def rests_on(self) -> str:
        return self.bench.in_force.rests_on

    def findings(self, shown: ShownUnits = MM) -> list[Finding]:
        """Where it misses what is wanted, and what else is worth knowing; in the units of a viewer."""
        return [*self.remarks, *as_findings(self.plan.misses, shown)]


def bench_of(session: Session, data: Mapping[str, Any]) -> Bench:
    """Everything that is looked up for a plan.

    Raises
    ------
    RecordError, NotFoundError, StackNotKnownError
        Where it cannot be planned as it is asked for, with key, value and remedy.
    """
    spec = spec_from(dict(data))
    cords = cords_by_name(session)
    order = asked_of(spec, cords, lambda label: whip(session, label))
    in_force = fit_in_force(session) if spec.fit is None else _fit(session, spec.fit)
    stock = {one.cord.name: one.metres for one in cords_with_stock(session) if one.metres is not None}
    return Bench(in_force, order, cords, stock, pace_of_workshop(session))


Progress = Callable[[str, float], None]
"""Is told what is being made, and the share of all that is done, 0 to 1."""


def _unheard(words: str, share: float) -> None:
    """Nobody waits to hear how far it is."""


def plan_for(bench: Bench, progress: Progress = _unheard) -> Told:
    """The best plan, and the plain rule beside it.

    Raises
    ------
    PlanError
        Where the rules allow no plan at all.
    """
    order = bench.order
    plan = make_plan(
        bench.in_force,
        order.whip,
        order.asked,
        bench.cords,
        stock_m=bench.stock_m,
        pace=bench.pace,
        progress=lambda share: progress("every schedule that the rules allow is compared", share),
    )
    return told(bench, plan)


def plans_for(bench: Bench, progress: Progress = _unheard) -> Told:
    """The plan as it is asked for, and others beside it that are better in one way.

    Raises as ``plan_for``.
    """
    order = bench.order
    found = choices(
        bench.in_force,
        order.whip,
        order.asked,
        bench.cords,
        stock_m=bench.stock_m,
        pace=bench.pace,
        progress=progress,
    )
    return told(bench, found[0].plan, tuple(found))


def told(bench: Bench, plan: Plan, beside: tuple[Choice, ...] = ()) -> Told:
    """A plan that is made, with what there is to say of it."""
    return Told(bench, plan, _plain(bench, plan), tuple(dict.fromkeys(_remarks(bench, plan))), beside)


def _plain(bench: Bench, plan: Plan) -> Plan | None:
    if _is_begun(bench, plan):
        return None
    layers = plain_layers(plan.asked, plan.whip.layers)
    try:
        return finish(bench.in_force, replace(plan.whip, layers=layers), plan.asked, bench.cords)
    except (PlaitlogError, ValueError):
        return None


def _is_begun(bench: Bench, plan: Plan) -> bool:
    """Whether layers that were to be planned are settled, or plaited in part."""
    return any(
        isinstance(question, Layer) != isinstance(now, Layer)
        or (isinstance(now, AskedLayer) and now.begun is not None)
        for question, now in zip(bench.order.asked.layers, plan.asked.layers, strict=True)
    )


def _remarks(bench: Bench, plan: Plan) -> list[Finding]:
    in_force, order = bench.in_force, bench.order
    first = Query(stack=plan.stations[0].stack, maker=plan.whip.maker)
    # What is said of the cover holds at one station; the plan says it of every stretch.
    of_start = [one for one in in_force.predict([first])[0].findings if "cover" not in one.code]
    found = [*order.findings, *of_start]
    if plan.expected is not None:
        found += plan.expected.findings
    found += [
        Finding(
            "stock-lacks",
            f"{total.metres:.1f} m of {total.cord} are needed, {total.lacks_m:.1f} m of it are not in stock",
            "buy more, or plan in another cord",
        )
        for total in plan.totals
        if total.lacks_m
    ]
    return [*found, *_pair(bench, plan)]


def _pair(bench: Bench, plan: Plan) -> list[Finding]:
    """What the first of a pair weighs, beside what this one is expected to with the same parts on."""
    first = bench.order.like
    if not bench.order.pair or first is None:
        return []
    finished = tuple(one for one in first.weights if one.after_layer is None)
    hung = replace(plan.whip, weights=finished, fall=first.fall, cracker=first.cracker)
    expected = expected_or_none(bench.in_force, hung, bench.cords)
    if not finished or expected is None:
        return [Finding("pair-weight", f"no weight of {first.label} is noted", "weigh it")]
    noted, found = expected.noted[0]
    return [
        Finding(
            "pair-weight",
            f"{first.label} weighs {noted.weight_g:.0f} g; this one is expected at {found.value:.0f} g with "
            f"the same parts (90 %: {found.low_90:.0f} to {found.high_90:.0f} g)",
        )
    ]


def _fit(session: Session, number: int) -> InForce:
    row = session.get(FitRow, number)
    if row is None:
        raise not_found(session, number)
    return stored_fit(row)
