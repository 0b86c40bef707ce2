"""Readings in the line notation, read: ``in mm, belly, fresh: 0: 15.4; 12: 13.9/13.5; 24: 11.8``.

The head names the unit of the places and that of the sizes, ``girth`` where a tape was used, then what
holds for the whole line: the condition, the layer that was outermost, the tape's thickness.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from plaitlog.models.errors import Finding, NotationError
from plaitlog.models.notation.place import take_places
from plaitlog.models.notation.text import LONGEST_LINE, Cursor, as_mm, say_number
from plaitlog.models.units import DIAMETER_LIMIT_MM, GIRTH_LIMIT_MM, LengthUnit
from plaitlog.models.whip import CONDITIONS, ROLES, Condition, Layer, Reading

_HEAD: Final = re.compile(r" *(?:in|inch|inches|mm|cm)(?= *[:,]| )[^:;]*:", re.IGNORECASE)
_HEAD_COMMA: Final = re.compile(r",(?![0-9])")
_UNITS: Final[dict[str, LengthUnit]] = {"in": "in", "inch": "in", "inches": "in", "mm": "mm", "cm": "cm"}
_TAPE: Final = re.compile(r"tape(?![A-Za-z])", re.IGNORECASE)
_ORDINALS: Final = {"first": 1, "second": 2, "third": 3}
_NAMED: Final = re.compile(r"(thick|middle|mid|point|p)(?: *:|(?= ))", re.IGNORECASE)
_NAMES: Final = {"thick": "thick", "mid": "mid", "middle": "mid", "p": "point", "point": "point"}
_EACH: Final = re.compile(r"each(?![A-Za-z])", re.IGNORECASE)
_MISSING: Final = re.compile(r"_+")
_DOUBTFUL: Final = re.compile(r"\?")
_SECOND: Final = re.compile(r"/")
_COMMA: Final = re.compile(r",(?= |$)")


@dataclass(frozen=True, slots=True)
class ReadingsLine:
    """What one or more lines say; places and sizes have a unit each."""

    text: str
    unit: LengthUnit
    size_unit: LengthUnit
    readings: tuple[Reading, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(slots=True)
class _Head:
    """What holds for every reading of the line."""

    unit: LengthUnit | None
    size_unit: LengthUnit | None
    girth: bool = False
    tape_mm: float | None = None
    condition: Condition | None = None
    after_layer: int | None = None
    stations: dict[str, float | None] = field(default_factory=dict)

    def reading(self, at_mm: float | None, size: Fraction, doubtful: bool, place: str | None) -> Reading:
        return Reading(
            at_mm=at_mm,
            diameter_mm=None if self.girth else as_mm(size),
            girth_mm=as_mm(size) if self.girth else None,
            tape_mm=self.tape_mm,
            place=place,
            after_layer=self.after_layer,
            condition=self.condition,
            doubtful=doubtful,
        )


def parse_readings(
    text: str,
    *,
    layers: Sequence[Layer] = (),
    unit: LengthUnit | None = None,
    size_unit: LengthUnit | None = None,
    start_mm: float | None = 0.0,
    point_mm: float | None = None,
) -> ReadingsLine:
    """Read one or several lines of readings.

    Parameters
    ----------
    layers : the whip's layers, for heads that name one (``belly``, ``second belly``, ``layer 2``).
    unit, size_unit : the units of places and sizes for a line without a head.
    start_mm, point_mm : stations of the thick end and the point; without them ``thick``, ``mid`` and ``p``
        stay named places without a station, and ``p8`` is refused.

    Raises
    ------
    NotationError
        With the line, the character, the piece and the remedy.
    """
    stations = {
        "thick": start_mm,
        "point": point_mm,
        "mid": None if start_mm is None or point_mm is None else (start_mm + point_mm) / 2,
    }
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    if not lines:
        raise NotationError(Finding("line-empty", "no readings", "write them like 'in mm: 0: 19.2; 6: 17.9'"))
    readings: list[Reading] = []
    findings: list[Finding] = []
    units: tuple[LengthUnit, LengthUnit] | None = None
    for number, line in lines:
        try:
            head, cursor = _open(line, layers, unit, size_unit)
            head.stations = stations
            for piece in cursor.split(";"):
                if not piece.done():
                    readings.extend(_read_piece(piece, head, point_mm, findings))
        except NotationError as error:
            raise error if len(lines) == 1 else NotationError(error.finding.at(f"line {number}")) from None
        assert head.unit is not None
        assert head.size_unit is not None
        units = units or (head.unit, head.size_unit)
    assert units is not None
    return ReadingsLine(text, *units, tuple(readings), tuple(findings))


def _open(
    line: str, layers: Sequence[Layer], unit: LengthUnit | None, size_unit: LengthUnit | None
) -> tuple[_Head, Cursor]:
    if len(line) > LONGEST_LINE:
        raise NotationError(Finding("too-long", f"a line of {len(line)} characters", "part it into several"))
    cursor = Cursor(line, unit=unit)
    head = _Head(unit, size_unit)
    found = cursor.take(_HEAD)
    if found is not None:
        start = found.start()
        for part in (
            *(comma.start() for comma in _HEAD_COMMA.finditer(cursor.text, start, cursor.pos)),
            cursor.pos - 1,
        ):
            _read_head(Cursor(line, start, part, unit), head, layers)
            start = part + 1
    if head.unit is None or head.size_unit is None:
        raise cursor.refuse(
            "unit-missing", "does not say the units of places and sizes", "begin the line like 'in mm:'", 0
        )
    cursor.unit = head.unit
    return head, cursor


def _read_head(part: Cursor, head: _Head, layers: Sequence[Layer]) -> None:
    part.skip_blanks()
    start = part.pos
    words = part.text[start:].lower().split()
    text = " ".join(words)
    if words and all(word in _UNITS or word == "girth" for word in words):
        units = [_UNITS[word] for word in words if word != "girth"]
        if len(units) == 1 and units[0] == "mm":
            units *= 2
        if len(units) != 2:
            raise part.refuse(
                "unit-missing", "does not say two units", "places first, then sizes: 'in mm:'", start
            )
        head.unit, head.size_unit = units
        head.girth = "girth" in words
    elif text in CONDITIONS:
        head.condition = next(condition for condition in CONDITIONS if condition == text)
    elif part.take(_TAPE):
        tape = part.length(unit=head.size_unit)
        if tape is None or not part.done() or not head.girth:
            raise part.refuse("tape", "is no tape", "write 'in girth mm, tape 0.3:'", start)
        head.tape_mm = as_mm(tape)
    elif text != "finished":
        head.after_layer = _layer_named(part, words, layers)


def _layer_named(part: Cursor, words: list[str], layers: Sequence[Layer]) -> int:
    """The place of the layer, counted from 1: ``belly``, ``second belly``, ``belly 2`` or ``layer 3``."""
    start = part.pos
    part.pos = part.end
    number = next((int(word) for word in words if word.isdigit() and len(word) < 3), None)
    number = next((_ORDINALS[word] for word in words if word in _ORDINALS), number)
    names = [word for word in words if word not in _ORDINALS and not word.isdigit()]
    if names == ["layer"] and number:
        if layers and number > len(layers):
            raise part.refuse(
                "layer-unknown", f"is none of the {len(layers)} layers", "count them from inside", start
            )
        return number
    if len(names) != 1 or names[0] not in ROLES:
        known = ", ".join((*CONDITIONS, *ROLES))
        raise part.refuse("head-unknown", "is no condition and no layer", f"write one of {known}", start)
    slots = [slot for slot, layer in enumerate(layers, start=1) if layer.role == names[0]]
    if number and number <= len(slots):
        return slots[number - 1]
    if len(slots) == 1 and not number:
        return slots[0]
    remedy = "note the layers first, or count them: 'layer 2'"
    if len(slots) > 1:
        remedy = f"there are {len(slots)}: write '{names[0]} 1' or '{names[0]} 2'"
    raise part.refuse("layer-unknown", "does not name one layer of this whip", remedy, start)


def _read_piece(piece: Cursor, head: _Head, point_mm: float | None, findings: list[Finding]) -> list[Reading]:
    piece.skip_blanks()
    start = piece.pos
    colon = piece.text.find(":", start)
    named = piece.take(_NAMED)
    if named and (":" in named[0] or colon < 0):
        name = _NAMES[named[1].lower()]
        values = _take_values(piece, head)
        return [head.reading(head.stations[name], *size, name) for value in values for size in value]
    if colon < 0:
        piece.pos = start
        raise piece.refuse("place-missing", "does not say where", "put the place before it, as in '30: 15.4'")
    before = Cursor(piece.typed, start, colon, piece.unit)
    values = _take_values(Cursor(piece.typed, colon + 1, piece.end, piece.unit), head)
    places = _take_stations(before, len(values), point_mm, findings)
    if len(places) == 1:
        places *= len(values)
    if len(places) != len(values):
        raise piece.refuse(
            "values-count",
            f"has {len(places)} places and {len(values)} sizes",
            "write _ for a place not measured",
            start,
        )
    return [
        head.reading(place, *size, None)
        for place, value in zip(places, values, strict=True)
        for size in value
    ]


def _take_stations(
    before: Cursor, values: int, point_mm: float | None, findings: list[Finding]
) -> list[float]:
    """The places before the colon: one, a list, or one for each value with ``each 6``."""
    start = before.pos
    each = _EACH.search(before.text, start)
    places = take_places(
        Cursor(before.typed, start, each.start() if each else before.end, before.unit), None, point_mm
    )
    before.pos = before.end
    if any(where.kind == "not noted" for where in places):
        raise before.refuse("place-unknown", "has no place", "write the place, or thick, mid or p", start)
    for where in places:
        if where.kind != "at":
            middle = where.place().mid_mm
            shown = f"{say_number(middle, before.unit or 'mm')} {before.unit or 'mm'}"
            findings.append(
                Finding(
                    "place-uncertain",
                    f"a reading {where.kind} a place is taken at {shown}",
                    "give its place if known",
                )
            )
    if each is None:
        return [where.place().mid_mm for where in places]
    distance = Cursor(before.typed, each.end(), before.end, before.unit)
    spacing = distance.length()
    if not spacing or not distance.done() or len(places) > 1:
        raise before.refuse(
            "each-spacing", "has no spacing above 0", "write it like '0 each 6: 19.2 17.9'", start
        )
    return [places[0].moved(spacing * n).place().mid_mm for n in range(values)]


def _take_values(cursor: Cursor, head: _Head) -> list[list[tuple[Fraction, bool]]]:
    """The sizes, each with whether it is doubtful: none for ``_``, two where a second was read across."""
    values: list[list[tuple[Fraction, bool]]] = []
    while not cursor.done():
        if cursor.take(_MISSING):
            values.append([])
        else:
            sizes = [_take_size(cursor, head)]
            if cursor.take(_SECOND):
                sizes.append(_take_size(cursor, head))
            values.append(sizes)
        cursor.take(_COMMA)
    if not values:
        raise cursor.refuse("size-missing", "has no size", "write the size, or _ where it was not measured")
    return values


def _take_size(cursor: Cursor, head: _Head) -> tuple[Fraction, bool]:
    cursor.skip_blanks()
    start = cursor.pos
    limit = GIRTH_LIMIT_MM if head.girth else DIAMETER_LIMIT_MM
    size = cursor.length(fractions=head.size_unit == "in", unit=head.size_unit)
    if size is None or (cursor.pos < cursor.end and cursor.text[cursor.pos] not in " ?/,"):
        raise cursor.refuse(
            "size-unreadable", "is no size", "write it like 15.4, 15.4/15.2, 15.4? or _", start
        )
    if not 0 < size <= limit:
        raise cursor.refuse("size-absurd", "is not the size of a whip", "check number and unit", start)
    return size, cursor.take(_DOUBTFUL) is not None
