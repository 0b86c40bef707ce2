"""Where a plan misses its target or goes against the rules, each stretch once, with what could be done."""

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.models.planning.asked import Rules
from plaitlog.service.usecases.planning.planned_station import PlannedStation

OFF_MM: Final = 0.5
"""A station further off the target than this is named (common practice, no source)."""


def plan_findings(stations: Sequence[PlannedStation], rules: Rules) -> Iterator[Finding]:
    """Stretches off the target by more than half a millimetre, then those off the cover, in order."""
    for thick, members in _runs(stations, lambda one: _side(one.diameter_mm - one.target_mm, OFF_MM)):
        worst = max(members, key=lambda one: abs(one.diameter_mm - one.target_mm))
        word = "too thick" if thick > 0 else "too thin"
        remedy = (
            "a thinner cord or fewer strands to begin with, or a layer that ends earlier"
            if thick > 0
            else "a thicker cord or more strands, a layer that runs on, or strands that run on inside"
        )
        yield Finding(
            "off-target",
            f"{abs(worst.diameter_mm - worst.target_mm):.1f} mm {word} at {worst.at_mm:g} mm, where "
            f"{worst.target_mm:.1f} mm is wanted: no schedule that the rules allow comes nearer",
            remedy,
            _where(members),
        )
    for slot in sorted({slot for one in stations for slot in one.covers}):
        yield from _off_cover(stations, rules, slot)


def _off_cover(stations: Sequence[PlannedStation], rules: Rules, slot: int) -> Iterator[Finding]:
    low, high = rules.cover

    def side(one: PlannedStation) -> int:
        inside = next((x for x in one.stack.layers if x.slot == slot), None)
        over_nothing = one.stack.foundation_mm == 0 and one.stack.layers[:1] == ((inside,) if inside else ())
        cover = one.covers.get(slot)
        if (
            cover is None
            or over_nothing
            or any(x.role == "filler" and x.slot == slot for x in one.stack.layers)
        ):
            return 0
        return 1 if cover > high else -1 if cover < low else 0

    for bunches, members in _runs(stations, side):
        worst = max(members, key=lambda one: abs(one.covers[slot] - (high if bunches > 0 else low)))
        word = "strands bunch" if bunches > 0 else "gaps show"
        yield Finding(
            "off-cover",
            f"{word} in layer {slot}: cover {worst.covers[slot]:.2f} at {worst.at_mm:g} mm, the rule is "
            f"{low:g} to {high:g}",
            "fewer strands or a thinner cord" if bunches > 0 else "more strands or a thicker cord",
            _where(members),
        )


def _side(off_mm: float, limit_mm: float) -> int:
    return 1 if off_mm > limit_mm else -1 if off_mm < -limit_mm else 0


def _runs(
    stations: Sequence[PlannedStation], side: Callable[[PlannedStation], int]
) -> Iterator[tuple[int, list[PlannedStation]]]:
    for key, run in groupby(stations, key=side):
        if key:
            yield key, list(run)


def _where(members: Sequence[PlannedStation]) -> str:
    return f"{members[0].at_mm:g} to {members[-1].at_mm:g} mm"
