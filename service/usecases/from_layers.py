"""From layer shapes to layers: strand counts as steps or line notation, patterns, fates, cords by letter."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from string import ascii_uppercase
from typing import Any

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.notation import ScheduleLine, parse_schedule
from plaitlog.models.whip import Fate, Layer, LayerCord, StrandSchedule
from plaitlog.service.schemas.layers import LayerShape
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.from_records import Refusals, sizes
from plaitlog.service.usecases.from_steps import StepReader, said_by_both, same_steps


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
        self.steps = StepReader(where, point_mm, refusals)
        self.findings: tuple[Finding, ...] = ()
        self.typed: dict[str, str] = {}

    def layer(self) -> Layer:
        shape = self.shape
        stated = sizes(shape, self.steps.refusals, self.where)
        self.typed.update(stated.typed)
        fate = self.steps.fate(shape.fate, "fate")
        cords = self._cords()
        schedule: StrandSchedule | None = None
        text = shape.strands if isinstance(shape.strands, str) else shape.strands_text
        if isinstance(shape.strands, list):
            schedule = self.steps.schedule(shape.strands, cords)
        if text is not None:
            schedule, cords, fate = self._from_text(text, schedule, cords, fate)
        cords = self._with_lot(cords)
        if shape.pattern is not None:
            schedule = self._with_pattern(schedule, shape.pattern)
        if schedule is not None and {"diameter_mm", "thickness_mm"} & stated.fields.keys():
            self.steps.refuse(
                "strands", "strands-and-size", "a layer of strands has no given size", "keep one"
            )
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

    def _cords(self) -> tuple[LayerCord, ...]:
        shape = self.shape
        if shape.cord is not None and shape.cords is not None:
            self.steps.refuse("cords", "cord-twice", "the layer has cord and cords", "keep one of them")
        names = _names(shape)
        if len(set(names)) < len(names):
            self.steps.refuse("cords", "cord-twice", "a cord is listed twice", "list it once, with its share")
        by_name = {cord: letter for letter, cord in self.letters.items()}
        listed = shape.cords or []
        shares = [cord.share or 1.0 for cord in listed] or [1.0]
        lots = [cord.lot for cord in listed] or [None]
        return tuple(
            LayerCord(name, share, by_name.get(name), lot)
            for name, share, lot in zip(names, shares, lots, strict=False)
        )

    def _with_lot(self, cords: tuple[LayerCord, ...]) -> tuple[LayerCord, ...]:
        lot = self.shape.lot
        if lot is None:
            return cords
        if len(cords) != 1 or self.shape.cords is not None:
            text = "a lot stands beside a layer that does not name one cord"
            self.steps.refuse("lot", "lot-of-what", text, "name the cord, or note the lot in cords")
            return cords
        return (replace(cords[0], lot=lot),)

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
            self.steps.refusals.take(f"{self.where}, {key}", error)
            return steps, cords, fate
        self.findings = line.findings
        self.typed["strands"] = text
        if fate is not None and line.fate is not None and line.fate != fate:
            self.steps.refuse(
                "fate", "disagree", "the fate is not that of the notation", "correct one of them"
            )
        if steps is None:
            return line.schedule, line.cords, line.fate if fate is None else fate
        if not same_steps(steps, line.schedule, cords, line.cords):
            self.steps.refuse(
                key, "disagree", "the notation does not say the same as the steps", "correct one"
            )
            return steps, cords, fate
        both = said_by_both(steps, line.schedule, fate, take_patterns=self.shape.pattern is None)
        return both, cords, line.fate if fate is None else fate

    def _parsed(self, text: str, cords: tuple[LayerCord, ...]) -> ScheduleLine:
        if not cords:
            # Counts without letters in a layer without a cord: whose strands they are is not noted.
            with suppress(InputError):
                return parse_schedule(text, point_mm=self.steps.point_mm)
        return parse_schedule(text, letters=self.letters, cords=cords, point_mm=self.steps.point_mm)

    def _with_pattern(self, schedule: StrandSchedule | None, given: str | list[Any]) -> StrandSchedule | None:
        if schedule is not None:
            return self.steps.with_pattern(schedule, given)
        if isinstance(given, str):
            self.typed["pattern"] = given
        else:
            self.steps.refuse("pattern", "pattern-alone", "patterns stand at steps", "give the strands too")
        return None
