"""Where a plan misses its target or goes against the rules, each stretch once, with what could be done."""

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby, pairwise
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
        why, remedy = _why(stations, members, thick > 0, rules)
        yield Finding(
            "off-target",
            f"{abs(worst.diameter_mm - worst.target_mm):.1f} mm too {'thick' if thick > 0 else 'thin'} at "
            f"{worst.at_mm:g} mm, where {worst.target_mm:.1f} mm is wanted: {why}",
            remedy,
            _where(members),
        )
    for slot in sorted({slot for one in stations for slot in one.covers}):
        yield from _off_cover(stations, rules, slot)


def _why(
    stations: Sequence[PlannedStation], members: Sequence[PlannedStation], thick: bool, rules: Rules
) -> tuple[str, str]:
    """Why a stretch misses the target, and what could be done."""
    place = {one.at_mm: k for k, one in enumerate(stations)}
    first, last = place[members[0].at_mm], place[members[-1].at_mm]
    around = stations[max(first - 1, 0) : last + 2]
    step = max((abs(b.diameter_mm - a.diameter_mm) for a, b in pairwise(around)), default=0.0)
    fewest = max((x.count.mid for x in members[-1].stack.layers if x.role == "overlay"), default=0.0)
    if thick and fewest == rules.plait_counts[0] and last - first > 1:
        return f"{fewest:g} strands, the fewest that the rules allow, come out so", "a thinner cord"
    if step >= 2 * OFF_MM:
        return f"one drop makes {step:.1f} mm there", "a thinner cord has finer steps"
    if thick:
        return "no schedule that the rules allow is thinner", "a thinner cord, or a layer that ends earlier"
    return "no schedule that the rules allow is thicker", "a thicker cord, or a layer that runs on"


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
