"""The stacks that a workshop really plaits: what the worth of every gap is measured on.

Five stations of each of the latest whips, test plaits left out, each whip counting once, by its maker; a whip
that needs a cord which is not in stock counts half (where any stock is noted). A cord in stock that lies in
none of them is put in the place of the outer cord nearest in size, and counts as much as a cord does on the
average: a maker buys a cord to plait it. Without whips: a typical stack of every cord.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.calibration.prediction import Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.geometry import cord_diameter_mm
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.cords.worth import typical
from plaitlog.service.usecases.places import thick_end_mm

LATEST: Final = 100
STATIONS: Final = (1, 3, 5, 7, 9)
"""Tenths of the thong."""
SWAPPED: Final = 20
"""Stacks in which a cord that was never plaited is tried, at most."""
OUT_OF_STOCK: Final = 0.5
TYPICAL_OVERLAY: Final = 16


@dataclass(frozen=True, slots=True)
class Target:
    """One stack asked for, and how much it counts."""

    query: Query
    weight: float

    @property
    def cords(self) -> frozenset[str]:
        return frozenset(cord.name for cord in self.query.stack.cords)


def targets(whips: Sequence[Whip], cords: Mapping[str, Cord], stocked: frozenset[str]) -> list[Target]:
    """The stacks of placed whips, the latest of them, and of cords in stock that are in none."""
    latest = sorted((x for x in whips if x.type != "test plait"), key=_when, reverse=True)
    found: list[Target] = []
    taken = 0
    for whip in latest:
        some = list(_stacks_of(whip, cords))
        for at_mm, stack in some:
            query = Query(stack=stack, maker=whip.maker, at_mm=at_mm)
            target = Target(query, 1.0 / len(some))
            if stocked and not target.cords <= stocked:
                target = replace(target, weight=target.weight * OUT_OF_STOCK)
            found.append(target)
        taken += bool(some)
        if taken == LATEST:
            break
    plaited = {name for target in found for name in target.cords}
    new = sorted((stocked or frozenset(cords)) - plaited)
    if not found:
        return [Target(typical(cords[name], TYPICAL_OVERLAY), 1.0) for name in new]
    each = sum(target.weight for target in found) / len(plaited | stocked)
    return found + [
        Target(query, each / len(queries))
        for name in new
        if (queries := list(_with_cord(cords[name], found)))
        for query in queries
    ]


def _when(whip: Whip) -> tuple[str, str]:
    """Planned whips first of all: they are what comes next."""
    if whip.status == "planned":
        return "9999", whip.label
    return ("" if whip.made_on is None else whip.made_on.isoformat()), whip.label


def _stacks_of(whip: Whip, cords: Mapping[str, Cord]) -> Iterator[tuple[float, Stack]]:
    start, point = thick_end_mm(whip), whip.point_mm
    if start is None or point is None:
        return
    for tenth in STATIONS:
        at_mm = start + (point - start) * tenth / 10
        try:
            yield at_mm, stack_at(whip, at_mm, cords)
        except StackNotKnownError:
            continue


def _with_cord(cord: Cord, found: Sequence[Target]) -> Iterator[Query]:
    """Stacks of the workshop with this cord in place of the outer cord that is nearest to it in size."""
    outer = {
        x.query.stack.layers[-1].groups[0].cord.name: x.query.stack.layers[-1].groups[0].cord
        for x in found
        if x.query.stack.layers and x.query.stack.layers[-1].groups
    }
    if not outer:
        return
    size = cord_diameter_mm(cord)
    nearest = min(outer.values(), key=lambda x: (abs(cord_diameter_mm(x) - size), x.name)).name
    fitting = [x.query for x in found if x.query.stack.layers and nearest in _outer_names(x.query.stack)]
    for query in fitting[:: max(len(fitting) // SWAPPED, 1)][:SWAPPED]:
        layer = query.stack.layers[-1]
        groups = tuple(
            replace(group, cord=cord) if group.cord.name == nearest else group for group in layer.groups
        )
        layers = (*query.stack.layers[:-1], replace(layer, groups=groups))
        yield replace(query, stack=replace(query.stack, layers=layers))


def _outer_names(stack: Stack) -> set[str]:
    return {group.cord.name for group in stack.layers[-1].groups}
