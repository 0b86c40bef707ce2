"""Where a plan misses its target or goes against the rule for the cover, each stretch once, and why."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby, pairwise
from typing import Final

from plaitlog.models.planning.asked import Asked, AskedLayer, Rules
from plaitlog.models.planning.levels import levels_of
from plaitlog.models.whip import Layer, Role
from plaitlog.service.usecases.planning.planned_station import PlannedStation

OFF_MM: Final = 0.5
"""A station further off the target than this is named (common practice, no source)."""


class Why(StrEnum):
    """What keeps a plan from its target; what is beside it in ``Reason``."""

    DONE = "plaited-already"
    FEWEST = "fewest-strands"
    MOST = "most-strands"
    STEP = "one-drop"
    LAYER_END = "layer-end"
    COVER = "cover"
    HELD = "held-parallel"
    SPACING = "drop-spacing"
    RULES = "rules"


@dataclass(frozen=True, slots=True)
class Reason:
    """role : the layer that it is about. strands : how many are the fewest, or the most.

    mm : how much one drop makes, where the layer is to end, how near drops may lie, or the stretch on which
    nothing is dropped ends.
    """

    why: Why
    role: Role | None = None
    strands: int = 0
    mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OffTarget:
    """A stretch off the target by more than half a millimetre; at_mm : where it is furthest off, by how much
    there. Places in mm from the datum."""

    from_mm: float
    to_mm: float
    at_mm: float
    wanted_mm: float
    diameter_mm: float
    reason: Reason

    @property
    def thick(self) -> bool:
        return self.diameter_mm > self.wanted_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class OffCover:
    """A stretch on which strands of a layer (slot, from 1) bunch or gaps show; at_mm : where it is worst,
    with the cover there. rule : least and most."""

    from_mm: float
    to_mm: float
    at_mm: float
    slot: int
    role: Role
    cover: float
    rule: tuple[float, float]

    @property
    def bunches(self) -> bool:
        return self.cover > self.rule[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class BluntEnd:
    """Several strands of a core (slot, from 1) end at once where they should go singly."""

    at_mm: float
    slot: int
    strands: int

    @property
    def from_mm(self) -> float:
        return self.at_mm

    @property
    def to_mm(self) -> float:
        return self.at_mm


Miss = OffTarget | OffCover | BluntEnd


def misses(stations: Sequence[PlannedStation], asked: Asked, layers: Sequence[Layer]) -> Iterator[Miss]:
    """Stretches off the target, those off the cover layer by layer, ends of cores; ``layers`` as planned."""
    for thick, members in _runs(stations, lambda one: _side(one.diameter_mm - one.target_mm, OFF_MM)):
        worst = max(members, key=lambda one: abs(one.diameter_mm - one.target_mm))
        yield OffTarget(
            from_mm=members[0].at_mm,
            to_mm=members[-1].at_mm,
            at_mm=worst.at_mm,
            wanted_mm=worst.target_mm,
            diameter_mm=worst.diameter_mm,
            reason=_reason(stations, members, worst, thick > 0, asked, layers),
        )
    for slot in sorted({slot for one in stations for slot in one.covers}):
        yield from _off_cover(stations, asked.rules.cover, slot, layers[slot - 1].role)
    for slot, (question, layer) in enumerate(zip(asked.layers, layers, strict=True), start=1):
        if isinstance(question, AskedLayer) and layer.role == "core" and layer.schedule is not None:
            for before, after in pairwise(layer.schedule.steps):
                ended = round(before.total.mid - after.total.mid)
                if after.total.mid == 0 and ended > 1:
                    yield BluntEnd(at_mm=after.place.mid_mm, slot=slot, strands=ended)


def _reason(
    stations: Sequence[PlannedStation],
    members: Sequence[PlannedStation],
    worst: PlannedStation,
    thick: bool,
    asked: Asked,
    layers: Sequence[Layer],
) -> Reason:
    """The first that holds where it is furthest off: what no drops could mend before what others could."""
    if worst.at_mm <= _done_to_mm(asked):
        return Reason(Why.DONE)
    place = {one.at_mm: k for k, one in enumerate(stations)}
    first, last = place[members[0].at_mm], place[members[-1].at_mm]
    around = stations[max(first - 1, 0) : last + 2]
    step = max((abs(b.diameter_mm - a.diameter_mm) for a, b in pairwise(around)), default=0.0)
    plaits = {x.slot: round(x.count.mid) for x in worst.stack.layers if x.role in ("belly", "overlay")}
    least, most = asked.rules.plait_counts
    alone = len(worst.stack.layers) == 1 and worst.stack.layers[0].role == "overlay"
    if thick and alone and set(plaits.values()) == {least}:
        return Reason(Why.FEWEST, "overlay", strands=least)
    if not thick and _at_most(worst, plaits, asked.rules):
        return Reason(Why.MOST, "overlay", strands=most)
    if step >= 2 * OFF_MM and last - first < _nodes(asked, 2 * asked.rules.plait_spacing_mm):
        return Reason(Why.STEP, mm=step)
    return (
        _layer_end(worst, thick, asked)
        or _by_cover(worst, plaits, thick, asked, layers)
        or _held(worst, asked)
        or _spacing(members, asked, layers)
        or Reason(Why.RULES)
    )


def _done_to_mm(asked: Asked) -> float:
    """How far the overlay of a whip on the bench is plaited."""
    for layer in asked.layers:
        if isinstance(layer, AskedLayer) and layer.role == "overlay" and layer.begun is not None:
            return layer.begun_to_mm
    return -1.0


def _nodes(asked: Asked, length_mm: float) -> int:
    return round(length_mm / asked.rules.grid_mm)


def _at_most(worst: PlannedStation, plaits: dict[int, int], rules: Rules) -> bool:
    """All plaits have the most strands, or the outermost has and would show gaps over anything thicker."""
    most = rules.plait_counts[1]
    if not plaits or plaits[max(plaits)] < most:
        return False
    cover = worst.covers.get(max(plaits))
    thicker = worst.target_mm / worst.diameter_mm
    return set(plaits.values()) == {most} or (cover is not None and cover / thicker < rules.cover[0])


def _layer_end(worst: PlannedStation, thick: bool, asked: Asked) -> Reason | None:
    """A layer runs there, or does not, because its end was asked for."""
    found = None
    for slot, layer in enumerate(asked.layers, start=1):
        if not isinstance(layer, AskedLayer) or not isinstance(layer.ends, float | int):
            continue
        runs = any(x.slot == slot and x.role != "filler" for x in worst.stack.layers)
        if runs == thick:
            found = Reason(Why.LAYER_END, layer.role, mm=layer.ends)
    return found


def _by_cover(
    worst: PlannedStation, plaits: dict[int, int], thick: bool, asked: Asked, layers: Sequence[Layer]
) -> Reason | None:
    """A pair fewer would leave gaps, or a pair more would bunch, in each plait that runs there."""
    low, high = asked.rules.cover
    found = None
    for slot, count in plaits.items():
        cover = worst.covers.get(slot)
        tucked_alone = not worst.stack.foundation_mm and all(
            one.slot == slot or one.role == "filler" for one in worst.stack.layers if one.slot <= slot
        )
        if cover is None or tucked_alone or not isinstance(asked.layers[slot - 1], AskedLayer):
            return None
        changed = cover * (count - 2 if thick else count + 2) / count
        if low <= changed <= high:
            return None
        found = Reason(Why.COVER, layers[slot - 1].role)
    return found


def _held(worst: PlannedStation, asked: Asked) -> Reason | None:
    """Nothing is dropped where the thong is held parallel or goes over from the handle."""
    goal = asked.target
    if 0 < worst.at_mm < goal.held_to_mm:
        return Reason(Why.HELD, mm=goal.held_to_mm)
    if worst.at_mm > goal.held_from_mm:
        return Reason(Why.HELD, mm=asked.length_mm)
    return None


def _spacing(members: Sequence[PlannedStation], asked: Asked, layers: Sequence[Layer]) -> Reason | None:
    """Drops of a layer follow each other there as closely as they may."""
    grid = asked.rules.grid_mm
    low, high = members[0].at_mm - grid, members[-1].at_mm + grid
    for levels in reversed(levels_of(asked)):
        schedule = layers[levels.slot - 1].schedule
        steps = () if schedule is None else schedule.steps[1:]
        for one, other in pairwise(step.place.mid_mm for step in steps):
            apart = other - one
            if one <= high and other >= low and apart <= levels.wait * grid + grid / 2:
                return Reason(Why.SPACING, levels.layer.role, mm=levels.wait * grid)
    return None


def _off_cover(
    stations: Sequence[PlannedStation], rule: tuple[float, float], slot: int, role: Role
) -> Iterator[OffCover]:
    low, high = rule

    def side(one: PlannedStation) -> int:
        cover = one.covers.get(slot)
        tucked = any(x.role == "filler" and x.slot == slot for x in one.stack.layers)
        if cover is None or tucked:
            return 0
        return 1 if cover > high else -1 if cover < low else 0

    for bunches, members in _runs(stations, side):
        worst = max(members, key=lambda one: abs(one.covers[slot] - (high if bunches > 0 else low)))
        yield OffCover(
            from_mm=members[0].at_mm,
            to_mm=members[-1].at_mm,
            at_mm=worst.at_mm,
            slot=slot,
            role=role,
            cover=worst.covers[slot],
            rule=rule,
        )


def _side(off_mm: float, limit_mm: float) -> int:
    return 1 if off_mm > limit_mm else -1 if off_mm < -limit_mm else 0


def _runs(
    stations: Sequence[PlannedStation], side: Callable[[PlannedStation], int]
) -> Iterator[tuple[int, list[PlannedStation]]]:
    for key, run in groupby(stations, key=side):
        if key:
            yield key, list(run)
