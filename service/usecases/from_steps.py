"""From steps in a file to steps of a schedule: places, strand counts, fates, patterns."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from plaitlog.models.errors import InputError
from plaitlog.models.notation import parse_fate
from plaitlog.models.units import LENGTH_LIMIT_MM
from plaitlog.models.whip import Fate, LayerCord, Place, Span, Step, StrandSchedule, exactly, pattern_sum
from plaitlog.service.schemas.values import shown
from plaitlog.service.usecases.from_records import Refusals

COUNT_LIMIT: Final = 1000
SAME_PLACE_MM: Final = 0.5
"""Steps and the notation they were typed as may differ by this much: half a millimetre of rounding."""


def bounded(steps: Sequence[Step], limit_mm: float | None) -> tuple[Step, ...]:
    """Steps whose place was not noted, placed anywhere between their neighbours, or the point."""
    found = list(steps)
    limit = LENGTH_LIMIT_MM if limit_mm is None else limit_mm
    for i, step in enumerate(found):
        if step.place.kind == "not noted":
            low = found[i - 1].place.low_mm if i else 0.0
            later = (s.place.high_mm for s in found[i + 1 :] if s.place.kind != "not noted")
            found[i] = replace(step, place=Place(low, max(low, next(later, limit)), "not noted"))
    return tuple(found)


def split(total: Span, cords: Sequence[LayerCord]) -> tuple[Span, ...]:
    """Strands of the whole layer dealt to its cords by their shares."""
    if len(cords) < 2:
        return (total,)
    whole = sum(cord.share for cord in cords)
    return tuple(Span(total.low * cord.share / whole, total.high * cord.share / whole) for cord in cords)


@dataclass(frozen=True, slots=True)
class StepReader:
    """Reads what one layer says of its strands; what is wrong goes to ``refusals`` with its key."""

    where: str
    point_mm: float | None
    refusals: Refusals

    def refuse(self, key: str, code: str, text: str, remedy: str) -> None:
        self.refusals.add(f"{self.where}, {key}", code, text, remedy)

    def schedule(self, given: list[Any], cords: tuple[LayerCord, ...]) -> StrandSchedule | None:
        steps: list[Step] = []
        if not given:
            self.refuse("strands", "steps-missing", "there is no step", "write [[0, 12]], or null")
        for number, entry in enumerate(given, start=1):
            key = f"strands {number}"
            if not isinstance(entry, list) or len(entry) not in (2, 3):
                self.refuse(key, "not-a-step", f"{shown(entry)} is not a step", "write it like [300, 5]")
                continue
            place = self._place(entry[0], key)
            counts = self._counts(entry[1], cords, key)
            fate = self.fate(entry[2], key) if len(entry) == 3 else None
            if place is not None and counts is not None:
                steps.append(Step(place, counts, fate))
        return StrandSchedule(bounded(steps, self.point_mm)) if steps else None

    def _place(self, value: Any, key: str) -> Place | None:
        if value is None:
            return Place(0.0, 0.0, "not noted")
        pair = value if isinstance(value, list) else [value, value]
        if len(pair) == 2 and all(map(_is_number, pair)):
            low, high = float(pair[0]), float(pair[1])
            if 0 <= low <= high <= LENGTH_LIMIT_MM:
                return Place(low, high, "between" if isinstance(value, list) else "at")
        self.refuse(
            key,
            "not-a-place",
            f"{shown(value)} is not a place",
            f"write mm from 0 to {LENGTH_LIMIT_MM:.0f}, a range [700, 860], or null if not noted",
        )
        return None

    def _counts(self, value: Any, cords: tuple[LayerCord, ...], key: str) -> tuple[Span, ...] | None:
        if not isinstance(value, dict):
            total = self._count(value, key)
            return None if total is None else split(total, cords)
        names = [cord.cord for cord in cords]
        unknown = [name for name in value if name not in names]
        if unknown:
            listed = ", ".join(names) or "none"
            self.refuse(
                key, "unknown-cord", f"{unknown[0]!r} is no cord of this layer", f"listed are: {listed}"
            )
            return None
        counts = [self._count(value[name], key) if name in value else exactly(0) for name in names]
        known = [count for count in counts if count is not None]
        return tuple(known) if len(known) == len(counts) else None

    def _count(self, value: Any, key: str) -> Span | None:
        pair = value if isinstance(value, list) else [value, value]
        if len(pair) == 2 and all(_is_number(x) and float(x).is_integer() for x in pair):
            low, high = float(pair[0]), float(pair[1])
            if 0 <= low <= high <= COUNT_LIMIT:
                return Span(low, high)
        self.refuse(
            key,
            "not-a-count",
            f"{shown(value)} is not a number of strands",
            "write a whole number of 0 or more, or a range [12, 16]",
        )
        return None

    def fate(self, value: Any, key: str) -> Fate | None:
        if value is None:
            return None
        if not isinstance(value, str):
            self.refuse(key, "not-a-fate", f"{shown(value)} is no fate", 'write "cut", "run", "tuck 80 mm"')
            return None
        try:
            return parse_fate(value)
        except InputError as error:
            self.refusals.take(f"{self.where}, {key}", error)
            return None

    def with_pattern(self, schedule: StrandSchedule, given: str | list[Any]) -> StrandSchedule:
        """The schedule with its patterns: one for the first step, or steps [place, pattern]."""
        entries = [[None, given]] if isinstance(given, str) else given
        steps = list(schedule.steps)
        next_step = 0
        for number, entry in enumerate(entries, start=1):
            key = "pattern" if isinstance(given, str) else f"pattern {number}"
            if not isinstance(entry, list) or len(entry) != 2 or not isinstance(entry[1], str | None):
                self.refuse(key, "not-a-pattern", f"{shown(entry)} is no pattern", 'write [900, "u3o3"]')
                continue
            pattern = None if entry[1] is None else entry[1].strip().lower()
            if pattern is not None and pattern_sum(pattern) is None:
                self.refuse(key, "not-a-pattern", f"{entry[1]!r} is no pattern", "write it like u2o2u2o2")
                continue
            place = steps[0].place if isinstance(given, str) else self._place(entry[0], key)
            if place is not None:
                next_step = self._put_pattern(steps, next_step, place, pattern, key)
        return replace(schedule, steps=tuple(steps))

    def _put_pattern(self, steps: list[Step], start: int, place: Place, pattern: str | None, key: str) -> int:
        """Set the pattern at the next step that lies there; a plain place between two steps makes one.

        A pattern of None passes over a step that lies at the same place as a later one. Gives the number
        of the step to go on from.
        """
        at = next((i for i in range(start, len(steps)) if _is_there(steps[i].place, place)), None)
        if at is None:
            near = [i for i in range(start, len(steps)) if _near(steps[i].place, place)]
            at = near[0] if near else None
        if at is None and place.kind == "at":
            before = [i for i, step in enumerate(steps) if step.place.high_mm < place.low_mm]
            if before and before[-1] + 1 >= start:
                at = before[-1] + 1
                steps.insert(at, Step(place, steps[at - 1].counts))
        if at is None:
            self.refuse(key, "pattern-place", "no step lies there, in this order", "give a place of strands")
            return start
        if pattern is not None:
            if steps[at].pattern not in (None, pattern):
                self.refuse(key, "disagree", "the notation has another pattern there", "correct one of them")
            steps[at] = replace(steps[at], pattern=pattern)
        return at + 1


def _is_there(step: Place, place: Place) -> bool:
    if "not noted" in (step.kind, place.kind):
        return step.kind == place.kind
    return (step.low_mm, step.high_mm) == (place.low_mm, place.high_mm)


def _near(one: Place, other: Place) -> bool:
    if "not noted" in (one.kind, other.kind):
        return False
    return math.isclose(one.low_mm, other.low_mm, abs_tol=SAME_PLACE_MM) and math.isclose(
        one.high_mm, other.high_mm, abs_tol=SAME_PLACE_MM
    )


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def said_by_both(
    listed: StrandSchedule, noted: StrandSchedule, fate: Fate | None, *, take_patterns: bool
) -> StrandSchedule:
    """The steps as listed, with what only notation can say: how vague a place is, and the rest.

    Fates are the notation's where the layer and its steps have none.
    """
    fates = fate is not None or any(step.fate for step in listed.steps)
    return StrandSchedule(
        tuple(
            replace(
                one,
                place=replace(one.place, kind=other.place.kind),
                fate=one.fate if fates else other.fate,
                pattern=other.pattern if take_patterns else None,
            )
            for one, other in zip(listed.steps, noted.steps, strict=True)
        ),
        noted.rest,
    )


def same_steps(
    listed: StrandSchedule,
    noted: StrandSchedule,
    listed_cords: Sequence[LayerCord],
    noted_cords: Sequence[LayerCord],
) -> bool:
    """Whether steps and notation agree in every place and count; the notation may say more beside."""
    if len(listed.steps) != len(noted.steps):
        return False
    order = [cord.cord for cord in listed_cords]
    for one, other in zip(listed.steps, noted.steps, strict=True):
        if one.place.kind != "not noted" and not _near(one.place, other.place):
            return False
        by_cord = dict(zip([cord.cord for cord in noted_cords], other.counts, strict=False))
        counts = tuple(by_cord.get(name, exactly(0)) for name in order) if order else other.counts
        if one.counts != counts:
            return False
    return True
