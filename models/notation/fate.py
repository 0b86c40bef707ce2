"""The fate of dropped strands in the line notation: ``cut``, ``tuck 3 gut``, ``run gut until 60``."""

import re
from dataclasses import replace
from fractions import Fraction
from typing import Final

from plaitlog.models.notation.text import Cursor, as_mm, open_line, print_number, say_number
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Fate, FateKind

_WORD: Final = re.compile(r"(cut|tuck(?:ed)?|run|gut(?:ted)?|until)(?![A-Za-z])", re.IGNORECASE)
_KINDS: Final[dict[str, FateKind]] = {"cut": "cut", "tuck": "tuck", "tucked": "tuck", "run": "run"}


def parse_fate(text: str, unit: LengthUnit | None = None) -> Fate:
    """A fate on its own: ``cut``, ``tuck 80 mm gut``, ``run``, ``run gut until 900 mm``.

    Raises
    ------
    NotationError
        Where it is none of these, or a length has no unit and ``unit`` declares none.
    """
    cursor = open_line(text, unit)
    fate = take_fate(cursor, None)
    if fate is None or not cursor.done():
        raise cursor.refuse(
            "fate-unreadable", "is no fate of a dropped strand", "write cut, tuck 80 mm or run"
        )
    return fate


def take_fate(cursor: Cursor, before: Fate | None) -> Fate | None:
    """The fate that stands at the cursor, None if none does; a bare ``gut`` guts the fate held before."""
    cursor.skip_blanks()
    start = cursor.pos
    kind: FateKind | None = None
    length: Fraction | None = None
    until: Fraction | None = None
    gutted = False
    while found := cursor.take(_WORD):
        word = found[1].lower()
        if word.startswith("gut"):
            gutted = True
        elif word == "until":
            until = cursor.length() if kind == "run" else None
            if until is None:
                raise cursor.refuse("fate-until", "has no meaning here", "write run until 60", start)
        elif kind is not None:
            raise cursor.refuse("fate-twice", "are two fates in one step", "keep one of them", start)
        else:
            kind = _KINDS[word]
            length = cursor.length() if kind == "tuck" else None
            if length == 0:
                raise cursor.refuse("fate-length", "tucks nothing", "write cut, or a length", start)
    if kind is None and not gutted:
        return None
    if (kind or (before and before.kind)) in (None, "cut") and gutted:
        raise cursor.refuse("fate-gut", "guts nothing that runs on", "write tuck 3 gut, or run gut", start)
    if kind is None:
        assert before is not None
        return replace(before, gutted=True)
    return Fate(kind, _mm(length), gutted, _mm(until))


def _mm(length: Fraction | None) -> float | None:
    return None if length is None else as_mm(length)


def print_fate(fate: Fate, unit: LengthUnit, *, with_unit: bool = False) -> str:
    """The fate in notation; ``with_unit`` writes the unit too, so that it can be read on its own."""
    tail = f" {unit}" if with_unit else ""
    words: list[str] = [fate.kind]
    if fate.length_mm is not None:
        words.append(print_number(fate.length_mm, unit) + tail)
    if fate.gutted:
        words.append("gut")
    if fate.until_mm is not None:
        words.append(f"until {print_number(fate.until_mm, unit)}{tail}")
    return " ".join(words)


def say_fate(fate: Fate, unit: LengthUnit) -> str:
    """The fate in words: ``tucked 3 in, gutted``."""
    words = {"cut": "cut", "tuck": "tucked", "run": "run on inside"}[fate.kind]
    if fate.length_mm is not None:
        words += f" {say_number(fate.length_mm, unit)} {unit}"
    if fate.until_mm is not None:
        words += f" until {say_number(fate.until_mm, unit)} {unit}"
    return f"{words}, gutted" if fate.gutted else words
