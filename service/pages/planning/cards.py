"""One plan as data of a page: its picture, what it misses and why, what it takes, how its layers run."""

from collections.abc import Iterator
from typing import Any

from plaitlog.models.units import show_mass
from plaitlog.service.pages.refusals import told as told_finding
from plaitlog.service.reports.plan_chart import PlannedAt, PlanPicture, plan_chart
from plaitlog.service.usecases.planning.miss_words import as_findings, said_on_tape
from plaitlog.service.usecases.planning.misses import OffTarget
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.planning.plan_json import outermost
from plaitlog.service.usecases.planning.plan_words import layer_lines, off_in_words, told_stations
from plaitlog.service.usecases.planning.planning import Told
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.working_hours import hours_in_words

FOUND_ELSEWHERE = ("no-fit",)
"""Said by what the plan rests on."""


def card(told: Told, shown: ShownUnits, readings: list[tuple[float, float]] | None = None) -> dict[str, Any]:
    """Everything that is told of a plan. readings : place and diameter in mm, to be drawn beside it."""
    plan = told.plan
    whip, expected, hours = plan.whip, plan.expected, plan.hours
    told_already = () if expected is None else expected.findings
    about = [whip.type, whip.maker, f"{shown.long_length(whip.thong_length_mm or 0.0)} thong"]
    return {
        "label": whip.label,
        "about": ", ".join(part for part in about if part),
        "datum": whip.datum,
        "picture": plan_chart(picture_of(plan, shown, readings or [])),
        "off": off_in_words(plan.misfit_mm, shown),
        "off_mm": round(plan.misfit_mm, 3),
        "off_sd": round(plan.misfit, 2),
        "off_plain": None if told.plain is None else off_in_words(told.plain.misfit_mm, shown),
        "drops": plan.drops,
        "weight": None if expected is None else _weight(told),
        "weight_short": None if expected is None else show_mass(expected.weight.value),
        "balance": None
        if expected is None or expected.balance is None
        else f"{said_on_tape(expected.balance.value, shown)} from the butt, laid straight (90 %: "
        f"{said_on_tape(expected.balance.low_90, shown)} to {said_on_tape(expected.balance.high_90, shown)})",
        "hours": None if hours is None else hours_in_words(hours, whip.maker),
        "cords": list(_cords(plan)),
        "layers": layer_lines(plan, shown),
        "misses": [told_finding(one) for one in as_findings(plan.misses, shown)],
        "remarks": [
            told_finding(one)
            for one in told.remarks
            if one.code not in FOUND_ELSEWHERE and one not in told_already
        ],
        "unknown": [told_finding(one) for one in told_already],
        "stations": list(_stations(plan, shown)),
        "rests_on": f"{told.rests_on[:1].upper()}{told.rests_on[1:]}",
        "caution": CAUTION,
    }


def picture_of(plan: Plan, shown: ShownUnits, readings: list[tuple[float, float]]) -> PlanPicture:
    missed = [(one.from_mm, one.to_mm) for one in plan.misses if isinstance(one, OffTarget)]
    first, last = plan.stations[0], plan.stations[-1]
    name = (
        f"Wanted and planned diameters: {shown.diameter(first.target_mm)} wanted and "
        f"{shown.diameter(first.diameter_mm)} planned at the thick end, {shown.diameter(last.target_mm)} and "
        f"{shown.diameter(last.diameter_mm)} at the point"
    )
    return PlanPicture(
        name=name,
        shown=shown,
        point_mm=plan.asked.length_mm,
        wanted=[(one.at_mm, one.target_mm) for one in plan.stations],
        planned=[
            PlannedAt(
                at_mm=one.at_mm,
                diameter_mm=one.diameter_mm,
                low_90_mm=one.low_90_mm,
                high_90_mm=one.high_90_mm,
            )
            for one in plan.stations
        ],
        missed=missed,
        readings=readings,
    )


def _weight(told: Told) -> str:
    expected = told.plan.expected
    assert expected is not None
    weight = expected.weight
    spread = f"{show_mass(weight.low_90)} to {show_mass(weight.high_90)}"
    return f"{show_mass(weight.value)} (90 %: {spread}), without fall and cracker"


def _cords(plan: Plan) -> Iterator[dict[str, Any]]:
    for total in plan.totals:
        pieces = sum(piece.pieces for piece in plan.pieces if piece.cord == total.cord)
        yield {
            "cord": total.cord,
            "metres": f"{total.metres:.1f} m",
            "pieces": pieces,
            "grams": None if total.grams is None else show_mass(total.grams),
            "lacks": None if not total.lacks_m else f"{total.lacks_m:.1f} m",
            "price": None if total.price is None else f"{total.price:.2f}",
        }


def _stations(plan: Plan, shown: ShownUnits) -> Iterator[dict[str, Any]]:
    for one in told_stations(plan.stations, shown):
        cover, angle = outermost(one, one.covers), outermost(one, one.angles_deg)
        yield {
            "at": shown.length(one.at_mm),
            "at_mm": one.at_mm,
            "wanted": shown.diameter(one.target_mm),
            "planned": shown.diameter(one.diameter_mm),
            "interval": shown.interval(one.low_90_mm, one.high_90_mm),
            "cover": "" if cover is None else f"{cover:.2f}",
            "angle": "" if angle is None else f"{angle:.0f}°",
        }
