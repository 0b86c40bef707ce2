"""A plan in plain text: layers with their drops, stations, weight, cord."""

from typing import TYPE_CHECKING

from plaitlog.service.cli.output import result, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from plaitlog.models.whip import Whip
    from plaitlog.service.usecases.planning.beside_plan import BesidePlan
    from plaitlog.service.usecases.planning.choices import Choice
    from plaitlog.service.usecases.planning.plan import Plan
    from plaitlog.service.usecases.planning.planning import Told
    from plaitlog.service.usecases.shown_units import ShownUnits


def print_plan(told: "Told", shown: "ShownUnits") -> None:
    """Everything but the findings."""
    from plaitlog.service.cli.weights import weight_lines
    from plaitlog.service.usecases.planning.plan_words import cord_lines, layer_lines, misfit_line
    from plaitlog.service.usecases.predicting import CAUTION
    from plaitlog.service.usecases.working_hours import hours_in_words

    plan = told.plan
    whip = plan.whip
    what = ", ".join(
        part
        for part in (whip.type, whip.maker, f"{shown.long_length(whip.thong_length_mm or 0.0)} thong")
        if part
    )
    result(f"{whip.label}: {what}; places from the {whip.datum} of the thong")
    result(f"{told.rests_on}. {CAUTION}")
    result()
    for line in layer_lines(plan, shown):
        result(line)
    result()
    heads = ("at", "wanted", "comes out at", "90 %", "cover")
    table(heads, _stations(plan, shown), right=heads)
    result(misfit_line(told, shown))
    if plan.expected is not None:
        for line in weight_lines(None, plan.expected, shown):
            result(line)
    if plan.hours is not None:
        result(hours_in_words(plan.hours, whip.maker))
    result()
    for line in cord_lines(plan):
        result(line)


def _stations(plan: "Plan", shown: "ShownUnits") -> "list[tuple[str, ...]]":
    from plaitlog.service.usecases.planning.plan_json import outermost
    from plaitlog.service.usecases.planning.plan_words import told_stations

    rows: list[tuple[str, ...]] = []
    for one in told_stations(plan.stations, shown):
        cover = outermost(one, one.covers)
        rows.append(
            (
                shown.length(one.at_mm),
                shown.diameter(one.target_mm),
                shown.diameter(one.diameter_mm),
                shown.interval(one.low_90_mm, one.high_90_mm),
                "" if cover is None else f"{cover:.2f}",
            )
        )
    return rows


def print_choices(found: "Sequence[Choice]", shown: "ShownUnits") -> None:
    """Plans side by side; closest is the one that is off by least in mm."""
    from plaitlog.service.usecases.planning.plan_words import off_in_words

    heads = ("plan", "off by", "in sd", "drops", "weight", "hours", "cord")
    rows = [
        (
            one.words,
            off_in_words(one.plan.misfit_mm, shown),
            f"{one.plan.misfit:.2f}",
            one.plan.drops,
            "" if one.plan.expected is None else f"{one.plan.expected.weight.value:.0f} g",
            "" if one.plan.hours is None else f"{one.plan.hours.hours.value:.1f}",
            ", ".join(f"{total.metres:.0f} m {total.cord}" for total in one.plan.totals),
        )
        for one in found
    ]
    table(heads, rows, right=("off by", "in sd", "drops", "weight", "hours"))
    result()


def print_beside(found: "BesidePlan", whip: "Whip", shown: "ShownUnits") -> None:
    """A whip beside the plan it was made from."""
    from plaitlog.service.usecases.planning import beside_words

    result()
    for line in (*beside_words.summary(found, shown), *beside_words.layers_otherwise(found, whip, shown)):
        result(line)
    if found.lines:
        rows = [beside_words.cells(line, shown) for line in found.lines]
        table(beside_words.HEADS, rows, right=beside_words.HEADS[:-1])
    for line in beside_words.whole(found, whip, shown):
        result(line)
