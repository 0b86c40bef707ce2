"""A cursor over one line of notation: takes pieces from left to right, refuses what it cannot read.

Every refusal names the character (counted from 1), the piece as typed and how to mend it.
"""

import re
from fractions import Fraction
from typing import Final

from plaitlog.models.errors import Finding, NotationError
from plaitlog.models.units import LENGTH_LIMIT_MM, MM_PER, LengthUnit, exact_text
from plaitlog.models.units_scan import plain_marks, scan_length

DOTS: Final = r" ?(?:\.\.+|…) ?"
LONGEST_LINE: Final = 2000
_SHORT: Final = 7
DECIMALS: Final = 9
"""Of a mm that notation keeps: enough for any number typed, too few for what arithmetic loses."""
_WITHIN_MM: Final = 1e-10
_HEAD: Final = re.compile(r" *(in|inch|inches|mm|cm) *:", re.IGNORECASE)
_NO_HEAD: Final = re.compile(r" *(?:in|inch|inches|mm|cm|m|ft|feet)(?![A-Za-z]) *:?", re.IGNORECASE)
_BLANKS: Final = re.compile(r" *")


class Cursor:
    """A place in a line between ``pos`` and ``end``; ``unit`` is the one its head declares, if any."""

    def __init__(
        self, typed: str, pos: int = 0, end: int | None = None, unit: LengthUnit | None = None
    ) -> None:
        self.typed = typed
        self.end = len(typed) if end is None else end
        self.text = plain_marks(typed)[: self.end]
        self.pos = pos
        self.unit: LengthUnit | None = unit

    def skip_blanks(self) -> None:
        blanks = _BLANKS.match(self.text, self.pos)
        self.pos = blanks.end() if blanks else self.pos

    def done(self) -> bool:
        self.skip_blanks()
        return self.pos >= self.end

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """What matches here, blanks skipped before; the cursor moves past it."""
        self.skip_blanks()
        found = pattern.match(self.text, self.pos)
        if found is not None:
            self.pos = found.end()
        return found

    def split(self, separator: str) -> list["Cursor"]:
        """The parts from here to the end between separators, each with its own cursor."""
        parts: list[Cursor] = []
        start = self.pos
        while True:
            at = self.text.find(separator, start)
            stop = self.end if at < 0 else at
            parts.append(Cursor(self.typed, start, stop, self.unit))
            if at < 0:
                return parts
            start = at + 1

    def length(self, *, fractions: bool = True, unit: LengthUnit | None = None) -> Fraction | None:
        """A length in mm; a bare number is in ``unit`` or the declared one. None if no number stands here."""
        self.skip_blanks()
        start = self.pos
        found = scan_length(self.text, start, fractions=fractions)
        if found is None:
            return None
        declared = unit or self.unit
        if found.unit is None and declared is None:
            number = self.text[start : found.end]
            remedy = f"write '{number} mm' or '{number} in', or begin the line with 'mm:' or 'in:'"
            raise self.refuse("unit-missing", "has no unit", remedy, start)
        value = found.value if found.unit or declared is None else found.value * MM_PER[declared]
        self.pos = found.end
        if value > LENGTH_LIMIT_MM:
            raise self.refuse("absurd", "is longer than any whip", "check number and unit", start)
        return value

    def refuse(self, code: str, text: str, remedy: str, start: int | None = None) -> NotationError:
        """The error for the piece from ``start`` (or here) to the cursor, or to the next blank."""
        begin = self.pos if start is None else start
        blanks = _BLANKS.match(self.text, begin)
        begin = blanks.end() if blanks else begin
        stop = self.pos
        if stop <= begin:
            stop = next((i for i in range(begin, self.end) if self.text[i] in " ;"), self.end)
        piece = self.typed[begin:stop].strip()
        shown = f"{piece!r} {text}" if piece else f"the line {text}" if begin else f"the empty line {text}"
        return NotationError(Finding(code, shown, remedy, where=f"character {begin + 1}"))


def open_line(typed: str, unit: LengthUnit | None = None) -> Cursor:
    """A cursor after the head (``in:``, ``mm:``, ``cm:``) of a line, its unit declared.

    Raises
    ------
    NotationError
        Where the line is empty or longer than 2000 characters.
    """
    if len(typed) > LONGEST_LINE:
        raise NotationError(
            Finding(
                "too-long",
                f"a line of {len(typed)} characters",
                f"a layer takes one line of at most {LONGEST_LINE}",
            )
        )
    cursor = Cursor(typed, unit=unit)
    head = cursor.take(_HEAD)
    if head is not None:
        cursor.unit = _head_unit(head[1])
    elif cursor.take(_NO_HEAD):
        raise cursor.refuse("head", "is no head of a line", "begin with 'in:', 'mm:' or 'cm:'", 0)
    return cursor


def _head_unit(name: str) -> LengthUnit:
    lower = name.lower()
    return "mm" if lower == "mm" else "cm" if lower == "cm" else "in"


def as_mm(length: Fraction) -> float:
    """A length read from notation, in mm to the ninth decimal."""
    return float(round(length, DECIMALS))


def print_number(mm: float, unit: LengthUnit) -> str:
    """A length in notation: the shortest number in ``unit`` that reads back the same, inches in fractions."""
    return exact_text(mm, unit, fractions=unit == "in", within_mm=_WITHIN_MM)


def print_size(mm: float, unit: LengthUnit) -> str:
    """A diameter in notation: as calipers show it, in decimals."""
    return exact_text(mm, unit, within_mm=_WITHIN_MM)


def say_number(mm: float, unit: LengthUnit) -> str:
    """A length for reading: as printed where that is short, else to a hundredth (mm: a tenth) of the unit."""
    text = print_number(mm, unit)
    if len(text) <= _SHORT:
        return text
    return exact_text(round(mm / float(MM_PER[unit]), 1 if unit == "mm" else 2), "mm")


def read_number(text: str, unit: LengthUnit) -> Fraction:
    """A length printed before, in mm."""
    length = Cursor(text, unit=unit).length()
    if length is None:
        raise ValueError(f"{text!r} is no length")
    return length
