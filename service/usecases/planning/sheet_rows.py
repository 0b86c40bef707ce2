"""The drops of one layer as rows of a bench sheet, with the strip of the whip beside them."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise

from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Fate, Layer, Step
from plaitlog.service.reports.bench_sheet_content import DropRow, StripPart
from plaitlog.service.usecases.planning.sheet_places import on_tape, tape_text, tape_unit
from plaitlog.service.usecases.predicting_stacks import usual_pattern

Outline = Callable[[float], float | None]
"""Diameter in mm at a place in mm, None where nothing is to be drawn."""
NEAR_MM = 1.0
"""So far before and behind a drop the outline is read."""


def drop_rows(
    layer: Layer,
    letters: Mapping[str, str],
    point_mm: float,
    marks: Sequence[float],
    outlines: tuple[Outline, Outline],
    unit: LengthUnit,
    done_to_mm: float = float("-inf"),
) -> tuple[DropRow, ...]:
    """The start of a layer, each of its drops once, and the point where it runs on to it.

    marks : places to measure. outlines : of the layer, and of the body under it. done_to_mm : what lies
    before it is plaited already.
    """
    steps = () if layer.schedule is None else layer.schedule.steps
    if not steps:
        return ()
    told = [_told(layer, before, after, letters, unit) for before, after in _with_none(steps)]
    places = [step.place.mid_mm for step in steps]
    if steps[-1].total.high > 0:
        places.append(point_mm)
        told.append((f"{_counts(layer, steps[-1], letters)} to the point", "", ""))
    tape = [on_tape(place, unit) for place in places]
    found = []
    for k, (strands, pattern, fate) in enumerate(told):
        found.append(
            DropRow(
                station=tape_text(tape[k], unit),
                gap="" if k == 0 else tape_text(tape[k] - tape[k - 1], unit),
                strands=strands,
                pattern=pattern,
                fate=fate,
                strip=_strip(places, k, marks, outlines),
                done=places[k] <= done_to_mm,
            )
        )
    return tuple(found)


def fate_text(fate: Fate | None, unit: LengthUnit) -> str:
    """What becomes of a dropped strand, short: cut, tuck 3 in gutted, run on inside."""
    if fate is None:
        return ""
    inside = " gutted" if fate.gutted else ""
    if fate.kind == "cut":
        return "cut"
    if fate.kind == "tuck":
        long = "" if fate.length_mm is None else f" {_length(fate.length_mm, unit)}"
        return f"tuck{long}{inside}"
    until = "" if fate.until_mm is None else f" to {_length(fate.until_mm, unit)}"
    return f"run on{inside}{until}"


def _length(mm: float, unit: LengthUnit) -> str:
    return f"{tape_text(on_tape(mm, unit), unit)} {tape_unit(unit)}"


def _with_none(steps: Sequence[Step]) -> Iterator[tuple[Step | None, Step]]:
    yield None, steps[0]
    yield from pairwise(steps)


def _told(
    layer: Layer, before: Step | None, after: Step, letters: Mapping[str, str], unit: LengthUnit
) -> tuple[str, str, str]:
    """Strands, pattern and fate of one row."""
    count = after.total.mid
    plaited = layer.role in ("belly", "overlay")
    usual = usual_pattern(round(count)) if plaited and count >= 4 and count % 2 == 0 else ""
    pattern = after.pattern or usual
    if before is None:
        return f"start {_counts(layer, after, letters)}", pattern, ""
    fate = fate_text(after.fate or layer.fate, unit) if count < before.total.mid else "added"
    if count == 0:
        return f"{before.total.mid:g} end{'s' if before.total.mid == 1 else ''}", "", fate
    gone = _gone(layer, before, after, letters)
    return f"{before.total.mid:g} to {count:g}", pattern, f"{gone}: {fate}" if gone else fate


def _gone(layer: Layer, before: Step, after: Step, letters: Mapping[str, str]) -> str:
    """Of a layer of several cords how many strands of which are dropped: 2B."""
    if len(layer.cords) == 1:
        return ""
    changes = [was.mid - now.mid for was, now in zip(before.counts, after.counts, strict=True)]
    return "+".join(
        f"{abs(change):g}{letters.get(cord.cord, '')}"
        for change, cord in zip(changes, layer.cords, strict=True)
        if change
    )


def _counts(layer: Layer, step: Step, letters: Mapping[str, str]) -> str:
    counts = [f"{count.mid:g}" for count in step.counts]
    if len(counts) == 1:
        return counts[0]
    return "+".join(
        f"{count}{letters.get(cord.cord, '')}" for count, cord in zip(counts, layer.cords, strict=True)
    )


def _strip(
    places: Sequence[float], k: int, marks: Sequence[float], outlines: tuple[Outline, Outline]
) -> StripPart:
    """The whip from half way to the row before to half way to the row behind."""
    at = places[k]
    top = None if k == 0 else (places[k - 1] + at) / 2
    bottom = None if k == len(places) - 1 else (at + places[k + 1]) / 2
    own, inside = outlines
    found = []
    for mark in marks:
        if top is not None and top <= mark < at:
            found.append(0.5 * (mark - top) / (at - top))
        elif bottom is not None and at <= mark < bottom:
            found.append(0.5 + 0.5 * (mark - at) / (bottom - at))
    return StripPart(
        before=_side(own, top, at - NEAR_MM),
        after=_side(own, at + NEAR_MM, bottom),
        inside_before=_side(inside, top, at - NEAR_MM),
        inside_after=_side(inside, at + NEAR_MM, bottom),
        marks=tuple(found),
    )


def _side(outline: Outline, low: float | None, high: float | None) -> tuple[float, float] | None:
    if low is None or high is None:
        return None
    first, last = outline(low), outline(high)
    return None if first is None or last is None else (first, last)
