"""From layer shapes to layers: strand counts as steps or line notation, patterns, fates, cords by letter."""

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from string import ascii_uppercase
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.notation import ScheduleLine, parse_fate, parse_schedule
from plaitlog.models.units import LENGTH_LIMIT_MM
from plaitlog.models.whip import (
    Fate,
    Layer,
    LayerCord,
    Place,
    Span,
    Step,
    StrandSchedule,
    exactly,
    pattern_sum,
)
from plaitlog.service.schemas.values import shown
from plaitlog.service.schemas.whips import LayerShape, WhipRecord
from plaitlog.service.usecases.from_records import Refusals, sizes

COUNT_LIMIT: Final = 1000
SAME_PLACE_MM: Final = 0.5
"""Steps and the notation they were typed as may differ by this much: half a millimetre of rounding."""


@dataclass(frozen=True, slots=True)
class ReadLayers:
    layers: tuple[Layer, ...]
    findings: tuple[Finding, ...]


def layers_from(record: WhipRecord, point_mm: float | None, refusals: Refusals) -> ReadLayers:
    """The layers a record lists; ``point_mm``: station of the point, where the lengths are known."""
    letters = _letters(record, refusals)
    layers: list[Layer] = []
    findings: list[Finding] = []
    for number, shape in enumerate(record.layers or [], start=1):
        reader = _LayerReader(shape, f"layers {number}", letters, point_mm, refusals)
        layers.append(reader.layer())
        findings.extend(finding.at(f"layers {number}, strands") for finding in reader.findings)
    return ReadLayers(tuple(layers), tuple(findings))


def _letters(record: WhipRecord, refusals: Refusals) -> Mapping[str, str]:
    """Cords by letter: as named, else by order of first mention; none where no notation asks for letters."""
    shapes = record.layers or []
    texts = any(isinstance(shape.strands, str) or shape.strands_text is not None for shape in shapes)
    if record.letters is None and not texts:
        return {}
    letters: dict[str, str] = {}
    for letter, cord in (record.letters or {}).items():
        if letter.upper() not in ascii_uppercase or len(letter) != 1:
            refusals.add("letters", "letter", f"{letter!r} is not a letter", "write one of A to Z")
        elif cord in letters.values() or letter.upper() in letters:
            refusals.add(
                "letters", "letter-twice", f"{letter!r} or its cord is named twice", "keep one of them"
            )
        else:
            letters[letter.upper()] = cord
    for shape in shapes:
        for cord in _names(shape):
            if cord not in letters.values():
                free = next((letter for letter in ascii_uppercase if letter not in letters), None)
                if free is not None:
                    letters[free] = cord
    return letters


def _names(shape: LayerShape) -> list[str]:
    if shape.cords is not None:
        return [cord.cord for cord in shape.cords]
    return [] if shape.cord is None else [shape.cord]


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


class _LayerReader:
    """Reads one layer; what is wrong goes to ``refusals`` with the key it stands under."""

    def __init__(
        self,
        shape: LayerShape,
        where: str,
        letters: Mapping[str, str],
        point_mm: float | None,
        refusals: Refusals,
    ) -> None:
        self.shape = shape
        self.where = where
        self.letters = letters
        self.point_mm = point_mm
        self.refusals = refusals
        self.findings: tuple[Finding, ...] = ()
        self.typed: dict[str, str] = {}

    def layer(self) -> Layer:
        shape = self.shape
        stated = sizes(shape, self.refusals, self.where)
        self.typed.update(stated.typed)
        fate = self._fate(shape.fate, "fate")
        cords = self._cords()
        schedule: StrandSchedule | None = None
        text = shape.strands if isinstance(shape.strands, str) else shape.strands_text
        if isinstance(shape.strands, list):
            schedule = self._from_steps(shape.strands, cords)
        if text is not None:
            schedule, cords, fate = self._from_text(text, schedule, cords, fate)
        if shape.pattern is not None:
            schedule = self._with_pattern(schedule)
        if schedule is not None and {"diameter_mm", "thickness_mm"} & stated.fields.keys():
            self._refuse("strands", "strands-and-size", "a layer of strands has no given size", "keep one")
        return Layer(
            role=shape.role,
            cords=cords,
            schedule=schedule,
            fate=fate,
            what=shape.what,
            notes=shape.notes,
            typed=self.typed,
            **stated.fields,
        )

    def _refuse(self, key: str, code: str, text: str, remedy: str) -> None:
        self.refusals.add(f"{self.where}, {key}", code, text, remedy)

    def _cords(self) -> tuple[LayerCord, ...]:
        shape = self.shape
        if shape.cord is not None and shape.cords is not None:
            self._refuse("cords", "cord-twice", "the layer has cord and cords", "keep one of them")
        names = _names(shape)
        if len(set(names)) < len(names):
            self._refuse("cords", "cord-twice", "a cord is listed twice", "list it once, with its share")
        by_name = {cord: letter for letter, cord in self.letters.items()}
        shares = [cord.share or 1.0 for cord in shape.cords or []] or [1.0]
        return tuple(
            LayerCord(name, share, by_name.get(name)) for name, share in zip(names, shares, strict=False)
        )

    def _from_text(
        self,
        text: str,
        steps: StrandSchedule | None,
        cords: tuple[LayerCord, ...],
        fate: Fate | None,
    ) -> tuple[StrandSchedule | None, tuple[LayerCord, ...], Fate | None]:
        key = "strands" if isinstance(self.shape.strands, str) else "strands_text"
        try:
            line = self._parsed(text, cords)
        except InputError as error:
            self.refusals.take(f"{self.where}, {key}", error)
            return steps, cords, fate
        self.findings = line.findings
        self.typed["strands"] = text
        if fate is not None and line.fate is not None and line.fate != fate:
            self._refuse("fate", "disagree", "the fate is not that of the notation", "correct one of them")
        if steps is None:
            return line.schedule, line.cords, line.fate if fate is None else fate
        if not _same_steps(steps, line.schedule, cords, line.cords):
            self._refuse(key, "disagree", "the notation does not say the same as the steps", "correct one")
            return steps, cords, fate
        both = _said_by_both(steps, line.schedule, fate, take_patterns=self.shape.pattern is None)
        return both, cords, line.fate if fate is None else fate

    def _parsed(self, text: str, cords: tuple[LayerCord, ...]) -> ScheduleLine:
        if not cords:
            # Counts without letters in a layer without a cord: whose strands they are is not noted.
            with suppress(InputError):
                return parse_schedule(text, point_mm=self.point_mm)
        return parse_schedule(text, letters=self.letters, cords=cords, point_mm=self.point_mm)

    def _from_steps(self, given: list[Any], cords: tuple[LayerCord, ...]) -> StrandSchedule | None:
        steps: list[Step] = []
        if not given:
            self._refuse("strands", "steps-missing", "there is no step", "write [[0, 12]], or null")
        for number, entry in enumerate(given, start=1):
            key = f"strands {number}"
            if not isinstance(entry, list) or len(entry) not in (2, 3):
                self._refuse(key, "not-a-step", f"{shown(entry)} is not a step", "write it like [300, 5]")
                continue
            place = self._place(entry[0], key)
            counts = self._counts(entry[1], cords, key)
            fate = self._fate(entry[2], key) if len(entry) == 3 else None
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
        self._refuse(
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
            self._refuse(
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
        self._refuse(
            key,
            "not-a-count",
            f"{shown(value)} is not a number of strands",
            "write a whole number of 0 or more, or a range [12, 16]",
        )
        return None

    def _fate(self, value: Any, key: str) -> Fate | None:
        if value is None:
            return None
        if not isinstance(value, str):
            self._refuse(key, "not-a-fate", f"{shown(value)} is no fate", 'write "cut", "run", "tuck 80 mm"')
            return None
        try:
            return parse_fate(value)
        except InputError as error:
            self.refusals.take(f"{self.where}, {key}", error)
            return None

    def _with_pattern(self, schedule: StrandSchedule | None) -> StrandSchedule | None:
        given = self.shape.pattern
        if schedule is None:
            if isinstance(given, str):
                self.typed["pattern"] = given
            else:
                self._refuse("pattern", "pattern-alone", "patterns stand at steps", "give the strands too")
            return None
        entries = [[None, given]] if isinstance(given, str) else given or []
        steps = list(schedule.steps)
        next_step = 0
        for number, entry in enumerate(entries, start=1):
            key = "pattern" if isinstance(given, str) else f"pattern {number}"
            if not isinstance(entry, list) or len(entry) != 2 or not isinstance(entry[1], str | None):
                self._refuse(key, "not-a-pattern", f"{shown(entry)} is no pattern", 'write [900, "u3o3"]')
                continue
            pattern = None if entry[1] is None else entry[1].strip().lower()
            if pattern is not None and pattern_sum(pattern) is None:
                self._refuse(key, "not-a-pattern", f"{entry[1]!r} is no pattern", "write it like u2o2u2o2")
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
            self._refuse(key, "pattern-place", "no step lies there, in this order", "give a place of strands")
            return start
        if pattern is not None:
            if steps[at].pattern not in (None, pattern):
                self._refuse(key, "disagree", "the notation has another pattern there", "correct one of them")
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


def _said_by_both(
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


def _same_steps(
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
