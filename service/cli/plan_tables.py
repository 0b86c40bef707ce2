"""A plan in plain text: layers with their drops, stations, weight, cord."""

from typing import TYPE_CHECKING

from plaitlog.service.cli.output import result, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from plaitlog.models.whip import Layer, Step, Whip
    from plaitlog.service.usecases.planning.beside_plan import BesidePlan
    from plaitlog.service.usecases.planning.choices import Choice
    from plaitlog.service.usecases.planning.plan import Plan
    from plaitlog.service.usecases.planning.planned_station import PlannedStation
    from plaitlog.service.usecases.planning.planning import Told
    from plaitlog.service.usecases.shown_units import ShownUnits

STATIONS = 13
"""At most so many stations are printed, and the last; plan.json has them all."""
INCHES_MM = (76.2, 152.4, 304.8, 609.6, 1219.2)
MILLIMETRES = (50.0, 100.0, 200.0, 250.0, 500.0, 1000.0)


def print_plan(told: "Told", shown: "ShownUnits") -> None:
    """Everything but the findings."""
    from plaitlog.service.cli.weights import weight_lines
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


def layer_lines(plan: "Plan", shown: "ShownUnits") -> "list[str]":
    """Each layer with its count and its drops, innermost first."""
    from plaitlog.models.notation.fate import say_fate
    from plaitlog.service.usecases.predicting_stacks import usual_pattern

    found = []
    for slot, layer in enumerate(plan.whip.layers, start=1):
        head = f"{slot}. {layer.role}"
        if layer.schedule is None:
            size = layer.diameter_mm or layer.thickness_mm or 0.0
            where = f"{shown.length(layer.from_mm or 0.0)} to "
            where += "the point" if layer.to_mm is None else shown.length(layer.to_mm)
            found.append(f"{head}: {layer.what or 'as given'}, {shown.diameter(size)}, {where}")
            continue
        first, *drops = layer.schedule.steps
        count = round(first.total.mid)
        plaited = layer.role != "core"
        pattern = f" {usual_pattern(count)}" if plaited and count % 2 == 0 else ""
        parts = [f"{strands_in_words(layer, first)}{pattern}"]
        if drops:
            named = ", ".join(
                f"{counts_in_words(step)} at {shown.length(step.place.mid_mm)}" for step in drops
            )
            parts.append(f"down to {named}")
            if layer.fate is not None:
                parts.append(f"dropped strands {say_fate(layer.fate, shown.lengths)}")
        found.append(f"{head}: {'; '.join(parts)}")
    return found


def strands_in_words(layer: "Layer", step: "Step") -> str:
    """12 strands of Ridge 4 mm; of two cords 8 strands of Ridge 4 mm and 4 of Fell 3 mm."""
    counts = [(round(count.mid), one.cord) for count, one in zip(step.counts, layer.cords, strict=True)]
    (first, cord), *others = counts
    said = f"{first} strand{'' if first == 1 else 's'} of {cord}"
    return " and ".join([said, *(f"{count} of {name}" for count, name in others)])


def counts_in_words(step: "Step") -> str:
    """Strands in all, of several cords with those of each: 12 (8 + 4)."""
    total = f"{round(step.total.mid)}"
    return total if len(step.counts) == 1 else f"{total} ({' + '.join(f'{x.mid:g}' for x in step.counts)})"


def _stations(plan: "Plan", shown: "ShownUnits") -> "list[tuple[str, ...]]":
    from plaitlog.service.usecases.planning.plan_json import outermost

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


def told_stations(stations: "Sequence[PlannedStation]", shown: "ShownUnits") -> "list[PlannedStation]":
    """About a dozen stations at round distances, the last one always."""
    grid, length = stations[1].at_mm, stations[-1].at_mm
    distances = INCHES_MM if shown.lengths in ("in", "ft") else MILLIMETRES
    apart = next((one for one in distances if one * STATIONS >= length), distances[-1])
    step = max(round(apart / grid), 1)
    return [*stations[:-1:step], stations[-1]]


def misfit_line(told: "Told", shown: "ShownUnits") -> str:
    plan, plain = told.plan, told.plain
    line = (
        f"Off the target by {off_in_words(plan.misfit_mm, shown)} (root mean square), with {plan.drops} drops"
    )
    if plain is None:
        return f"{line}."
    return f"{line}; the same strands dropped at even distances: {off_in_words(plain.misfit_mm, shown)}."


def off_in_words(mm: float, shown: "ShownUnits") -> str:
    """How far a plan is off: 0.18 mm, 0.007 in."""
    return f"{mm / 25.4:.3f} in" if shown.diameters == "in" else f"{mm:.2f} mm"


def cord_lines(plan: "Plan") -> "list[str]":
    """Metres to cut of every cord, with tails."""
    from plaitlog.models.units import show_mass

    found = []
    for total in plan.totals:
        pieces = sum(piece.pieces for piece in plan.pieces if piece.cord == total.cord)
        many = "1 piece" if pieces == 1 else f"{pieces} pieces"
        line = f"Cut {total.metres:.1f} m of {total.cord} in {many}"
        if total.grams is not None:
            line += f", {show_mass(total.grams)}"
        if total.price is not None:
            line += f", price {total.price:.2f}"
        found.append(line)
    return found


def print_choices(found: "Sequence[Choice]", shown: "ShownUnits") -> None:
    """Plans side by side; closest is the one that is off by least in mm."""
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
