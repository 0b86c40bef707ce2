"""Layers and their strand schedules: what cannot be, and what a hand would hardly do."""

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.models.plausibility_values import positive, sized
from plaitlog.models.stack import PLAITED
from plaitlog.models.units import DIAMETER, LENGTH, LENGTH_LIMIT_MM, THICKNESS
from plaitlog.models.whip import Fate, Layer, Step, StrandSchedule, pattern_sum

STRANDS_LIMIT: Final = 1000
"""More strands than any layer has (own limit)."""
USUAL_STRANDS: Final = 48
ODD_HELD_MM: Final = 76.0
"""Strands of a pair are dropped about an inch apart (common practice, no source): 3 in is long."""


def layer_refusals(layer: Layer, point_mm: float | None) -> Iterator[Finding]:
    """Everything in one layer that cannot be taken."""
    given = [value for value in (layer.diameter_mm, layer.thickness_mm) if value is not None]
    yield from sized(layer.diameter_mm, DIAMETER, "diameter_mm")
    yield from sized(layer.thickness_mm, THICKNESS, "thickness_mm")
    yield from sized(layer.from_mm, LENGTH, "from_mm")
    yield from sized(layer.to_mm, LENGTH, "to_mm")
    if len(given) == 2:
        yield Finding(
            "size-twice", "the layer has a diameter and a thickness", "keep one of them", "thickness_mm"
        )
    if given and layer.role in PLAITED:
        yield Finding(
            "size-plaited",
            f"a {layer.role} is plaited and has no given size",
            "note its strands; a measured diameter is a reading",
            "diameter_mm" if layer.diameter_mm is not None else "thickness_mm",
        )
    if given and layer.schedule is not None:
        yield Finding(
            "size-and-strands", "the layer has a given size and strands", "keep one of them", "strands"
        )
    if layer.from_mm is not None and layer.to_mm is not None and layer.from_mm > layer.to_mm:
        yield Finding(
            "from-after-to", f"it begins at {layer.from_mm:g} mm, past its end", "swap from and to", "from_mm"
        )
    if layer.from_mm is not None and point_mm is not None and layer.from_mm > point_mm:
        yield Finding(
            "past-point", f"it begins past the point at {point_mm:g} mm", "check the lengths", "from_mm"
        )
    for number, cord in enumerate(layer.cords, start=1):
        yield from positive(cord.share, f"cords {number}, share")
    yield from _fate_refusals(layer.fate, "fate")
    if layer.schedule is not None:
        yield from _schedule_refusals(layer.schedule, len(layer.cords), point_mm)


def _schedule_refusals(schedule: StrandSchedule, cords: int, point_mm: float | None) -> Iterator[Finding]:
    if not schedule.steps:
        yield Finding(
            "steps-missing", "the schedule has no step", "give [[0, 12]], or leave it out", "strands"
        )
    for number, step in enumerate(schedule.steps, start=1):
        where = f"strands {number}"
        yield from _step_refusals(step, where)
        if cords and len(step.counts) != cords:
            yield Finding(
                "counts-cords", f"{len(step.counts)} counts for {cords} cords", "give one for each", where
            )
    if any(not math.isfinite(x) for step in schedule.steps for x in (step.place.low_mm, step.place.high_mm)):
        return
    for number, (before, after) in enumerate(pairwise(schedule.steps), start=2):
        if not after.place.follows(before.place):
            yield Finding(
                "steps-unordered",
                f"{after.place.low_mm:g} mm does not lie past {before.place.low_mm:g} mm, the step before",
                "list the steps from the handle to the point, one for each place",
                f"strands {number}",
            )
    if schedule.steps and point_mm is not None and schedule.steps[0].place.low_mm > point_mm:
        yield Finding(
            "past-point",
            f"the layer begins at {schedule.steps[0].place.low_mm:g} mm, past the point at {point_mm:g} mm",
            "check the place and the thong length",
            "strands 1",
        )


def _step_refusals(step: Step, where: str) -> Iterator[Finding]:
    low, high = step.place.low_mm, step.place.high_mm
    if not 0 <= low <= high <= LENGTH_LIMIT_MM:
        yield Finding(
            "place",
            f"{low:g} to {high:g} mm is no place on a whip",
            "count in mm from the datum on, from 0",
            where,
        )
    for count in step.counts:
        if not 0 <= count.low <= count.high <= STRANDS_LIMIT:
            shown = f"{count.low:g}" if count.exact else f"{count.low:g} to {count.high:g}"
            yield Finding("count", f"{shown} is no number of strands", "give 0 or more", where)
    if step.pattern is not None and pattern_sum(step.pattern) is None:
        yield Finding("pattern", f"{step.pattern!r} is no pattern", "write it like u2o2u2o2", where)
    yield from _fate_refusals(step.fate, where)


def _fate_refusals(fate: Fate | None, where: str) -> Iterator[Finding]:
    if fate is not None:
        yield from positive(fate.length_mm, where, LENGTH)
        yield from sized(fate.until_mm, LENGTH, where)


def layer_findings(layer: Layer, point_mm: float | None) -> Iterator[Finding]:
    """What a hand would hardly do in one layer; expects a layer that is not refused."""
    names = [cord.cord for cord in layer.cords]
    if len(set(names)) < len(names):
        yield Finding("cord-twice", "a cord is listed twice", "list it once, with its whole share", "cords")
    given = layer.diameter_mm is not None or layer.thickness_mm is not None
    if not given and layer.schedule is None:
        yield Finding(
            "layer-bare",
            f"neither strands nor a size of the {layer.role} are noted",
            "note them, else no diameter can be learned from this whip",
        )
    elif not given and not layer.cords:
        yield Finding(
            "cord-missing", f"the cord of the {layer.role} is not noted", "note which cord it is", "cord"
        )
    if layer.schedule is not None:
        yield from schedule_findings(layer, layer.schedule, point_mm)


def schedule_findings(layer: Layer, schedule: StrandSchedule, point_mm: float | None) -> Iterator[Finding]:
    """Odd or rising counts, jumps, patterns that do not add up, steps past the point."""
    end = point_mm if point_mm is not None else math.inf
    steps = schedule.steps
    for number, step in enumerate(steps, start=1):
        where = f"strands {number}"
        total = step.total
        until = steps[number].place.low_mm if number < len(steps) else end
        held = until - step.place.high_mm
        if layer.role in PLAITED and total.exact and total.low % 2 == 1 and held > ODD_HELD_MM:
            on = "to the point" if math.isinf(held) else f"for {held:.0f} mm"
            yield Finding(
                "odd-count", f"{total.low:g} strands run on {on}", "check: strands go in pairs", where
            )
        if total.high > USUAL_STRANDS:
            yield Finding(
                "count-unusual", f"{total.high:g} strands in one layer are unusual", "check it", where
            )
        if number > 1:
            yield from _change_findings(layer, steps[number - 2], step, where)
        if point_mm is not None and number > 1 and step.place.low_mm > point_mm:
            yield Finding(
                "step-past-point",
                f"the step lies past the point at {point_mm:g} mm",
                "check the lengths",
                where,
            )
        yield from _pattern_findings(step, where)
    last = steps[-1]
    if layer.role == "overlay" and last.total.high == 0 and last.place.high_mm < end and point_mm is not None:
        yield Finding(
            "overlay-short",
            f"the overlay ends {point_mm - last.place.high_mm:.0f} mm before the point",
            "an overlay runs to the point: check the last step and the thong length",
            f"strands {len(steps)}",
        )


def _change_findings(layer: Layer, before: Step, step: Step, where: str) -> Iterator[Finding]:
    was, now = before.total, step.total
    if now.low > was.high:
        yield Finding(
            "rising-count", f"strands rise from {was.high:g} to {now.low:g}", "check the order", where
        )
    if layer.role in PLAITED and now.high > 0 and now.high < was.low / 2:
        yield Finding(
            "jump",
            f"strands fall from {was.low:g} to {now.high:g} at one place",
            "note the drops between, if there were some",
            where,
        )


def _pattern_findings(step: Step, where: str) -> Iterator[Finding]:
    total = step.total
    passed = None if step.pattern is None else pattern_sum(step.pattern)
    if passed is None or not total.exact or total.low % 2 == 1 or 2 * passed == total.low:
        return
    yield Finding(
        "pattern-sum",
        f"{step.pattern} passes {passed} strands, but {total.low:g} strands meet {total.low / 2:g} others",
        f"unders and overs add up to half the count, {total.low / 2:g}",
        where,
    )
