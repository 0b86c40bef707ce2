"""The stack: which layers lie at one station of a whip, inside out, and how many strands of which cord."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal

from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.whip import Cord, Fate, Foundation, Layer, Span, Step, Whip, exactly, sum_of

StackRole = Literal["core", "belly", "bolster", "binding", "overlay", "filler"]
PLAITED: Final = frozenset({"belly", "overlay"})
PARALLEL: Final = frozenset({"core", "filler"})
TUCK_MM: Final = 76.0
"""Length of a tuck whose length is not noted: 2 to 4 in, so 3 in (common practice, no source)."""
MOST_PARTS: Final = 40
"""Places between two measured turns at which a picture follows them, at most."""


@dataclass(frozen=True, slots=True)
class StrandGroup:
    """Strands of one cord (of one lot where noted) in a layer at one station; the count may be a span."""

    cord: Cord
    count: Span
    gutted: bool = False
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StackLayer:
    """One layer as it lies at one station.

    Layers without strands give ``diameter_mm`` (what lies inside is replaced) or ``thickness_mm``.
    ``slot`` is the place of the listed layer it comes from, counted from 1 innermost: filler shares the
    slot of the layer whose strands it is made of. ``turn_mm`` is a measured turn length, if any.
    """

    role: StackRole
    groups: tuple[StrandGroup, ...] = ()
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    pattern: str | None = None
    turn_mm: float | None = None
    slot: int = 1

    @property
    def count(self) -> Span:
        return sum_of([group.count for group in self.groups])


@dataclass(frozen=True, slots=True)
class Stack:
    """The layers present at one station, inside out, over a foundation (0 mm: none runs there)."""

    layers: tuple[StackLayer, ...]
    foundation_mm: float = 0.0

    @property
    def cords(self) -> tuple[Cord, ...]:
        """Every cord in the stack, once, inside out."""
        found = {group.cord.name: group.cord for layer in self.layers for group in layer.groups}
        return tuple(found.values())


def layers_are_complete(whip: Whip) -> bool:
    """Whether the listed layers are all there are.

    Stated, or taken to be so when the whip has a status and every listed layer is known to its end.
    """
    if whip.layers_complete is not None:
        return whip.layers_complete
    return whip.status is not None and bool(whip.layers) and all(map(_known_to_its_end, whip.layers))


def stack_at(whip: Whip, at_mm: float, cords: Mapping[str, Cord], after_layer: int | None = None) -> Stack:
    """The stack of ``whip`` at a station (mm from the whip's datum).

    ``cords`` holds every cord that the layers name. With ``after_layer`` (counted from 1, innermost) only
    the layers up to that one, as they lay before the next was begun.

    Raises
    ------
    StackNotKnownError
        Where the record does not say which layers, or how many strands, lie there.
    """
    if not layers_are_complete(whip):
        raise _not_known(
            "layers-open",
            "it is not noted that the listed layers are all there are",
            "note layers_complete, or what is missing",
        )
    point_mm = whip.point_mm
    if point_mm is not None and at_mm > point_mm:
        raise _not_known("past-point", f"{at_mm:g} mm lies past the point at {point_mm:g} mm", "")
    layers: list[StackLayer] = []
    for slot, layer in enumerate(whip.layers[:after_layer], start=1):
        layers.extend(layer_at(layer, slot, at_mm, cords))
    if whip.turn_lengths:
        turns = turns_at(whip, at_mm)
        layers = [_turned(layer, turns) for layer in layers]
    if after_layer is not None and not any(x.slot == after_layer and x.role != "filler" for x in layers):
        raise _not_known("layer-absent", f"layer {after_layer} does not run at {at_mm:g} mm", "")
    stack = Stack(tuple(layers), _foundation_at(whip, at_mm, layers))
    if not stack.layers and stack.foundation_mm == 0.0:
        raise _not_known("empty-stack", f"no layer runs at {at_mm:g} mm", "note where the layers run")
    return stack


def turns_at(whip: Whip, at_mm: float) -> Mapping[int, float]:
    """Turn lengths (mm) known at a station by slot of the plaited layer that they were measured on.

    Between two stations turns run evenly. Along an even taper that interpolates the cotangent of the plait
    angle, turn / (pi d_m), each end with the weight of its own diameter: a plait of one angle keeps it.
    Beyond the first and the last station nothing is known, but for half a turn: a turn is itself read over
    its length.
    """
    found: dict[int, float] = {}
    for slot, (stations, turns) in _turns(whip).items():
        if stations[0] - turns[0] / 2 <= at_mm <= stations[-1] + turns[-1] / 2:
            found[slot] = _between(at_mm, stations, turns)
    return found


def turn_changes(whip: Whip) -> Iterator[float]:
    """Places where the turn lengths known of a whip change: the ends of what each set of them covers, and
    between its stations a place about every half turn."""
    for stations, turns in _turns(whip).values():
        yield stations[0] - turns[0] / 2
        yield stations[-1] + turns[-1] / 2
        for (start, end), turn in zip(pairwise(stations), turns, strict=False):
            parts = min(max(round((end - start) / turn * 2), 1), MOST_PARTS)
            yield from (start + (end - start) * k / parts for k in range(parts + 1))


def _turns(whip: Whip) -> dict[int, tuple[list[float], list[float]]]:
    """By slot: stations and the turn at each, in order."""
    by_slot: dict[int, dict[float, list[float]]] = {}
    for turn in whip.turn_lengths:
        slot = slot_of_turn(whip, turn.after_layer)
        if slot is not None:
            by_slot.setdefault(slot, {}).setdefault(turn.at_mm, []).append(turn.turn_mm)
    return {
        slot: (sorted(noted), [sum(noted[x]) / len(noted[x]) for x in sorted(noted)])
        for slot, noted in by_slot.items()
    }


def _between(at_mm: float, stations: list[float], turns: list[float]) -> float:
    place = bisect_right(stations, at_mm)
    if place in (0, len(stations)):
        return turns[max(place - 1, 0)]
    start, end = stations[place - 1], stations[place]
    along = (at_mm - start) / (end - start)
    return turns[place - 1] * (1 - along) + turns[place] * along


def slot_of_turn(whip: Whip, after_layer: int | None) -> int | None:
    """The plaited layer that was outermost when a turn was measured."""
    plaited = [slot for slot, layer in enumerate(whip.layers, start=1) if layer.role in PLAITED]
    if after_layer is None:
        return plaited[-1] if plaited else None
    return after_layer if after_layer in plaited else None


def _turned(layer: StackLayer, turns: Mapping[int, float]) -> StackLayer:
    return replace(layer, turn_mm=turns.get(layer.slot)) if layer.role in PLAITED else layer


def _not_known(code: str, text: str, remedy: str) -> StackNotKnownError:
    return StackNotKnownError(Finding(code, text, remedy))


def _known_to_its_end(layer: Layer) -> bool:
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        return True
    schedule = layer.schedule
    if schedule is None or not schedule.steps:
        return False
    return schedule.rest == "point" or schedule.steps[-1].total.high == 0


def _foundation_at(whip: Whip, at_mm: float, layers: list[StackLayer]) -> float:
    foundation = whip.foundation
    if not isinstance(foundation, Foundation):
        return 0.0
    if foundation.to_mm is not None:
        end = foundation.to_mm
    else:
        end = (whip.handle_length_mm or 0.0) if whip.datum == "butt" else 0.0
    core_runs = any(layer.role == "core" for layer in layers)
    # At its very end a foundation still fills the plait, unless the core that butts on to it is noted there.
    runs = at_mm < end or (at_mm == end > 0 and not core_runs)
    return foundation.diameter_mm if runs else 0.0


def layer_at(layer: Layer, slot: int, at_mm: float, cords: Mapping[str, Cord]) -> list[StackLayer]:
    """What one layer puts into the stack at a station: filler, then itself; nothing where it does not run.

    Raises StackNotKnownError where the record does not say.
    """
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        starts = layer.from_mm is None or at_mm >= layer.from_mm
        runs = starts and (layer.to_mm is None or at_mm <= layer.to_mm)
        given = StackLayer(
            role=layer.role, diameter_mm=layer.diameter_mm, thickness_mm=layer.thickness_mm, slot=slot
        )
        return [given] if runs else []
    name = f"layer {slot} ({layer.role})"
    schedule = layer.schedule
    if schedule is None or not schedule.steps:
        raise _not_known("schedule-unknown", f"the strand schedule of {name} is not noted", "note it")
    if not layer.cords:
        raise _not_known("cord-not-noted", f"the cord of {name} is not noted", "note which cord it is")
    last = schedule.steps[-1]
    # Where the last drop's own place is not noted, the rest may begin anywhere after the drop before it.
    noted_to_mm = last.place.low_mm if last.place.kind == "not noted" else last.place.high_mm
    if schedule.rest == "not noted" and last.total.high > 0 and at_mm > noted_to_mm:
        raise _not_known(
            "schedule-open",
            f"the strand schedule of {name} is not noted that far",
            "note where it ends",
        )
    named = [_cord(cord.cord, cords) for cord in layer.cords]
    lots = [cord.lot for cord in layer.cords]
    counts, pattern = _counts_at(schedule.steps, at_mm, len(named))
    groups = tuple(
        StrandGroup(cord, count, lot=lot)
        for cord, count, lot in zip(named, counts, lots, strict=True)
        if count.high > 0
    )
    filler = _filler_at(layer, named, at_mm)
    found: list[StackLayer] = []
    if filler:
        found.append(StackLayer(role="filler", groups=filler, slot=slot))
    if groups:
        found.append(StackLayer(role=layer.role, groups=groups, pattern=pattern, slot=slot))
    return found


def _cord(name: str, cords: Mapping[str, Cord]) -> Cord:
    try:
        return cords[name]
    except KeyError:
        raise _not_known(
            "cord-unknown", f"the cord {name!r} is not in the workshop", "add the cord"
        ) from None


def _counts_at(steps: tuple[Step, ...], at_mm: float, cords: int) -> tuple[tuple[Span, ...], str | None]:
    """Strands per cord at a station; within an uncertain place both what was and what comes is possible."""
    counts: tuple[Span, ...] = (exactly(0),) * cords
    pattern: str | None = None
    for step in steps:
        if at_mm < step.place.low_mm:
            break
        certain = at_mm >= step.place.high_mm
        changed = step.counts != counts
        counts = step.counts if certain else tuple(map(Span.hull, counts, step.counts))
        if changed or step.pattern is not None:
            pattern = step.pattern if certain else None
    return counts, pattern


def _filler_at(layer: Layer, cords: list[Cord], at_mm: float) -> tuple[StrandGroup, ...]:
    """Dropped strands that run on inside at a station; strands whose fate is not noted count as cut."""
    found: dict[tuple[str, bool], StrandGroup] = {}
    assert layer.schedule is not None
    lots = [cord.lot for cord in layer.cords]
    before: tuple[Span, ...] = (exactly(0),) * len(cords)
    for step in layer.schedule.steps:
        fate = step.fate or layer.fate
        if fate is not None and fate.kind != "cut" and step.place.low_mm <= at_mm:
            for cord, lot, was, now in zip(cords, lots, before, step.counts, strict=True):
                count = _still_inside(fate, step, _dropped(was, now), at_mm)
                if count.high > 0:
                    key = (cord.name, fate.gutted)
                    sofar = found[key].count if key in found else exactly(0)
                    found[key] = StrandGroup(cord, sofar.plus(count), fate.gutted, lot)
        before = step.counts
    return tuple(found.values())


def _dropped(was: Span, now: Span) -> Span:
    """Strands that ended: exactly known where a range of counts is shifted as a whole (12..16 less 2)."""
    if was.low - now.low == was.high - now.high:
        return exactly(max(was.low - now.low, 0))
    return Span(max(was.low - now.high, 0), max(was.high - now.low, 0))


def tuck_mm(fate: Fate) -> float:
    """How far a strand that is tucked goes on inside: as noted, else ``TUCK_MM``."""
    return TUCK_MM if fate.length_mm is None else fate.length_mm


def _still_inside(fate: Fate, step: Step, dropped: Span, at_mm: float) -> Span:
    place = step.place
    if fate.kind == "tuck":
        length = tuck_mm(fate)
        first_end, last_end = place.low_mm + length, place.high_mm + length
    else:
        first_end = last_end = float("inf") if fate.until_mm is None else fate.until_mm
    if not place.low_mm <= at_mm < last_end:
        return exactly(0)
    certain = place.high_mm <= at_mm < first_end
    return dropped if certain else Span(0, dropped.high)
