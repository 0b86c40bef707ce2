"""A plan in words: layers with their drops, how far it is off, what to cut."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from plaitlog.models.counted import counted
from plaitlog.models.notation.fate import say_fate
from plaitlog.models.units import show_mass
from plaitlog.models.whip import Layer, Step
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.planning.planned_station import PlannedStation
from plaitlog.service.usecases.planning.planning import Bench, Told
from plaitlog.service.usecases.predicting_stacks import usual_pattern
from plaitlog.service.usecases.shown_units import ShownUnits

STATIONS: Final = 13
"""At most so many stations are told, and the last; plan.json has them all."""
INCHES_MM: Final = (76.2, 152.4, 304.8, 609.6, 1219.2)
MILLIMETRES: Final = (50.0, 100.0, 200.0, 250.0, 500.0, 1000.0)


def layer_lines(plan: Plan, shown: ShownUnits) -> list[str]:
    """Each layer with its count and its drops, innermost first."""
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


def strands_in_words(layer: Layer, step: Step) -> str:
    """12 strands of Ridge 4 mm; of two cords 8 strands of Ridge 4 mm and 4 of Fell 3 mm."""
    counts = [(round(count.mid), one.cord) for count, one in zip(step.counts, layer.cords, strict=True)]
    (first, cord), *others = counts
    said = f"{counted(first, 'strand')} of {cord}"
    return " and ".join([said, *(f"{count} of {name}" for count, name in others)])


def counts_in_words(step: Step) -> str:
    """Strands in all, of several cords with those of each: 12 (8 + 4)."""
    total = f"{round(step.total.mid)}"
    return total if len(step.counts) == 1 else f"{total} ({' + '.join(f'{x.mid:g}' for x in step.counts)})"


def told_stations(stations: Sequence[PlannedStation], shown: ShownUnits) -> list[PlannedStation]:
    """About a dozen stations at round distances, the last one always."""
    grid, length = stations[1].at_mm, stations[-1].at_mm
    distances = INCHES_MM if shown.lengths in ("in", "ft") else MILLIMETRES
    apart = next((one for one in distances if one * STATIONS >= length), distances[-1])
    step = max(round(apart / grid), 1)
    return [*stations[:-1:step], stations[-1]]


def misfit_line(told: Told, shown: ShownUnits) -> str:
    plan, plain = told.plan, told.plain
    line = (
        f"Off the target by {off_in_words(plan.misfit_mm, shown)} (root mean square), with {plan.drops} drops"
    )
    if plain is None:
        return f"{line}."
    return f"{line}; the same strands dropped at even distances: {off_in_words(plain.misfit_mm, shown)}."


def off_in_words(mm: float, shown: ShownUnits) -> str:
    """How far a plan is off: 0.18 mm, 0.007 in."""
    return f"{mm / 25.4:.3f} in" if shown.diameters == "in" else f"{mm:.2f} mm"


def cord_lines(plan: Plan) -> list[str]:
    """Metres to cut of every cord, with tails."""
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


def on_the_tape_of(bench: Bench, known: ShownUnits) -> ShownUnits:
    """Units of a viewer, but lengths in those of the plan's grid: no place lies between marks of a tape."""
    inches = bench.order.unit == "in"
    return known if (known.lengths in ("in", "ft")) == inches else replace(known, lengths=bench.order.unit)
