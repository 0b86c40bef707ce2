"""Places along the thong in the line notation: ``30``, ``~30``, ``28..34``, ``?``, ``then 4``, ``p8``."""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from plaitlog.models.notation.text import DOTS, Cursor, as_mm, print_number, say_number
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Place, PlaceKind

ABOUT_MM: Final = Fraction(25)
""""About" a place reaches 25 mm to both sides (an inch; own convention)."""

_ABOUT: Final = re.compile(r"~|about(?![A-Za-z])|ca?\.(?= ?[0-9])", re.IGNORECASE)
_AT: Final = re.compile(r"at(?![A-Za-z])", re.IGNORECASE)
_NOT_NOTED: Final = re.compile(r"\?")
_THEN: Final = re.compile(r"then(?![A-Za-z])", re.IGNORECASE)
_POINT: Final = re.compile(r"p(?= ?[0-9.,¼½¾⅛⅜⅝⅞])", re.IGNORECASE)
_DOTS: Final = re.compile(DOTS)
_COMMA: Final = re.compile(r",(?= |$)")
_HYPHEN: Final = re.compile(r"-")


@dataclass(frozen=True, slots=True)
class Where:
    """A place in exact mm, not yet rounded; ``not noted`` has no bounds before its neighbours are known."""

    low: Fraction
    high: Fraction
    kind: PlaceKind = "at"

    def moved(self, by: Fraction) -> "Where":
        """The same sort of place further on."""
        if self.kind == "about":
            return about(self.high - ABOUT_MM + by)
        return Where(self.low + by, self.high + by, self.kind)

    def place(self) -> Place:
        return Place(as_mm(self.low), as_mm(self.high), self.kind)


NOT_NOTED: Final = Where(Fraction(0), Fraction(0), "not noted")


def about(at: Fraction) -> Where:
    return Where(max(at - ABOUT_MM, Fraction(0)), at + ABOUT_MM, "about")


def take_places(cursor: Cursor, last: Where | None, point_mm: float | None) -> list[Where]:
    """All places up to the end of the cursor, parted by blanks or by comma and blank; at least one."""
    places: list[Where] = []
    while not cursor.done():
        last = _take_place(cursor, last, point_mm)
        places.append(last)
        cursor.take(_COMMA)
    if not places:
        raise cursor.refuse(
            "place-missing", "has no place before ':'", "write the place, or ? if it was not noted"
        )
    return places


def _take_place(cursor: Cursor, last: Where | None, point_mm: float | None) -> Where:
    cursor.take(_AT)
    cursor.skip_blanks()
    start = cursor.pos
    if cursor.take(_NOT_NOTED):
        return NOT_NOTED
    if cursor.take(_THEN):
        step = cursor.length()
        if step is None:
            raise cursor.refuse("place-then", "says no distance", "write then 4", start)
        if last is None or last.kind == "not noted":
            raise cursor.refuse("place-then", "follows no known place", "write the place itself", start)
        return last.moved(step)
    if cursor.take(_ABOUT):
        return about(_bound(cursor, point_mm, start))
    low = _bound(cursor, point_mm, start)
    if cursor.take(_DOTS):
        high = _bound(cursor, point_mm, start)
        if high < low:
            raise cursor.refuse("place-range", "runs backwards", "write the nearer place first", start)
        return Where(low, high, "between")
    if cursor.take(_HYPHEN):
        raise cursor.refuse("place-range", "is no place", "write a range with dots, as in 28..34", start)
    return Where(low, low)


def _bound(cursor: Cursor, point_mm: float | None, start: int) -> Fraction:
    if not cursor.take(_POINT):
        length = cursor.length()
        if length is None:
            raise cursor.refuse(
                "place-unreadable",
                "is no place",
                "write it like 30, ~30, 28..34, ?, then 4 or p8; steps part with ';'",
                start,
            )
        return length
    before = cursor.length()
    assert before is not None
    if point_mm is None:
        raise cursor.refuse(
            "point-unknown",
            "counts from the point, and the thong's length is not known",
            "note the thong length first",
            start,
        )
    if before > Fraction(point_mm):
        raise cursor.refuse("place-before", "lies before the whip begins", "check number and unit", start)
    return Fraction(point_mm) - before


def print_place(place: Place, unit: LengthUnit) -> str:
    """The place in notation, in the unit of the line's head."""
    if place.kind == "not noted":
        return "?"
    if place.kind == "between":
        return f"{print_number(place.low_mm, unit)}..{print_number(place.high_mm, unit)}"
    if place.kind == "about":
        return f"~{about_text(place, unit)}"
    return print_number(place.low_mm, unit)


def about_text(place: Place, unit: LengthUnit) -> str:
    """The middle of an "about" place, whose lower bound may have been cut off at 0."""
    return print_number(place.high_mm - float(ABOUT_MM), unit)


def say_place(place: Place, unit: LengthUnit) -> str:
    """The place in words: ``at 30 in``, ``somewhere between 28 and 34 in``."""
    if place.kind == "not noted":
        return "at a place not noted"
    low, high = say_number(place.low_mm, unit), say_number(place.high_mm, unit)
    if place.kind == "between":
        return f"somewhere between {low} and {high} {unit}"
    if place.kind == "about":
        return f"about {say_number(place.high_mm - float(ABOUT_MM), unit)} {unit}"
    return f"at {low} {unit}"
