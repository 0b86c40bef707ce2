"""From layers to records: strand counts as steps, beside them the notation where it says more."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from plaitlog.models.notation import print_fate, print_schedule
from plaitlog.models.whip import Layer, LayerCord, Place, Span, Step, StrandSchedule
from plaitlog.service.usecases.from_steps import split

_PATTERN: Final = re.compile(r"\bu\d+o\d", re.IGNORECASE)


def letters_of(layers: Sequence[Layer]) -> dict[str, str]:
    """Cords by the letter they have in the line notation, in order of mention."""
    return {cord.letter: cord.cord for layer in layers for cord in layer.cords if cord.letter is not None}


def layer_record(layer: Layer) -> dict[str, Any]:
    typed = layer.typed
    several = len(layer.cords) > 1 or any(cord.share != 1.0 for cord in layer.cords)
    schedule = layer.schedule
    found = {
        "role": layer.role,
        "cord": layer.cords[0].cord if layer.cords and not several else None,
        "lot": layer.cords[0].lot if layer.cords and not several else None,
        "cords": [_cord(x) for x in layer.cords] if several else None,
        "strands": schedule and [_step(step, layer.cords) for step in schedule.steps],
        "strands_text": _notation(layer),
        "pattern": typed.get("pattern") if schedule is None else _patterns(schedule),
        "fate": layer.fate and print_fate(layer.fate, "mm", with_unit=True),
        "diameter_mm": number(layer.diameter_mm),
        "diameter": typed.get("diameter"),
        "thickness_mm": number(layer.thickness_mm),
        "thickness": typed.get("thickness"),
        "from_mm": number(layer.from_mm),
        "from": typed.get("from"),
        "to_mm": number(layer.to_mm),
        "to": typed.get("to"),
        "what": layer.what,
        "notes": layer.notes,
    }
    return {key: value for key, value in found.items() if value is not None}


def by_notation(layer: Mapping[str, Any]) -> dict[str, Any]:
    """A layer's record with its line notation alone, where it has one, and not the steps beside it.

    Where the point of a whip moves, a place such as p8 moves with it, and the steps are worked out anew.
    """
    text = layer.get("strands_text")
    if text is None:
        return dict(layer)
    left_out = {"strands", "strands_text", *(["pattern"] if _PATTERN.search(text) else [])}
    return {**{key: value for key, value in layer.items() if key not in left_out}, "strands": text}


def number(value: float | None) -> float | int | None:
    """A whole number without a decimal point."""
    return int(value) if value is not None and value == int(value) else value


def _cord(cord: LayerCord) -> dict[str, Any]:
    found: dict[str, Any] = {"cord": cord.cord, "share": number(cord.share)}
    return found if cord.lot is None else {**found, "lot": cord.lot}


def _step(step: Step, cords: Sequence[LayerCord]) -> list[Any]:
    found = [_place(step.place), _count(step.counts, cords)]
    if step.fate is not None:
        found.append(print_fate(step.fate, "mm", with_unit=True))
    return found


def _place(place: Place) -> Any:
    if place.kind == "not noted":
        return None
    return number(place.low_mm) if place.kind == "at" else [number(place.low_mm), number(place.high_mm)]


def _count(counts: Sequence[Span], cords: Sequence[LayerCord]) -> Any:
    """The layer's total where the shares give each cord its count, else the counts by cord."""
    total = Span(_whole(sum(count.low for count in counts)), _whole(sum(count.high for count in counts)))
    if split(total, cords) == tuple(counts):
        return _span(total)
    return {cord.cord: _span(count) for cord, count in zip(cords, counts, strict=True)}


def _whole(total: float) -> float:
    return float(round(total)) if abs(total - round(total)) < 1e-9 else total


def _span(count: Span) -> Any:
    return number(count.low) if count.exact else [number(count.low), number(count.high)]


def _patterns(schedule: StrandSchedule) -> list[list[Any]] | None:
    """Patterns by place. A step without one stands among them where its place alone would not tell it
    from a later step that has one."""
    places = [_place(step.place) for step in schedule.steps]
    patterned = [place for place, step in zip(places, schedule.steps, strict=True) if step.pattern]
    return [
        [place, step.pattern]
        for place, step in zip(places, schedule.steps, strict=True)
        if step.pattern or place in patterned
    ] or None


def _notation(layer: Layer) -> str | None:
    """The line as typed; else one printed where steps alone would lose that a place or the rest is vague."""
    if layer.schedule is None or "strands" in layer.typed:
        return layer.typed.get("strands")
    vague = layer.schedule.rest == "not noted" or any(s.place.kind == "about" for s in layer.schedule.steps)
    return print_schedule(layer.schedule, "mm", cords=layer.cords, fate=layer.fate) if vague else None
