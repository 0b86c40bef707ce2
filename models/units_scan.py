"""Numbers and units found in a text: the reading half of ``units``, also used by the line notation.

Everything is read as an exact fraction. The comma is always the decimal mark.

Factors: the inch is 25.4 mm and the pound 453.59237 g, exactly (international yard and pound agreement of
1959); 12 in make a foot, 3 ft a yard, 16 oz a pound.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

MM_PER_INCH: Final = Fraction(254, 10)
G_PER_POUND: Final = Fraction(45359237, 100000)

MM_PER: Final[Mapping[str, Fraction]] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": MM_PER_INCH,
    "ft": MM_PER_INCH * 12,
    "yd": MM_PER_INCH * 36,
    "thou": MM_PER_INCH / 1000,
}
G_PER: Final[Mapping[str, Fraction]] = {
    "g": Fraction(1),
    "kg": Fraction(1000),
    "oz": G_PER_POUND / 16,
    "lb": G_PER_POUND,
}

_FRACTIONS: Final = {
    sign: Fraction(unicodedata.normalize("NFKC", sign).replace("\u2044", "/"))
    for sign in "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
}
_NUMBER: Final = re.compile(
    rf"(?:(?P<whole>[0-9]{{1,9}})(?:\ +|-)(?P<top>[0-9]{{1,4}})/(?P<bottom>[0-9]{{1,4}})"
    rf"|(?P<units>[0-9]{{0,9}})\ ?(?P<sign>[{''.join(_FRACTIONS)}])"
    r"|(?P<over>[0-9]{1,4})/(?P<under>[0-9]{1,4})"
    r"|(?P<decimal>[0-9]{1,9}[.,][0-9]{1,30}|(?<![0-9])[.,][0-9]{1,30}|[0-9]{1,9}))"
    r"(?![0-9]|[.,][0-9])"
)
_DECIMAL: Final = re.compile(r"(?:[0-9]{1,9}[.,][0-9]{1,30}|[.,][0-9]{1,30}|[0-9]{1,9})(?![0-9]|[.,][0-9])")
# A word, or a mark for feet or inches; '12 in.' may have its dot, '12 in..14 in' keeps both.
_UNIT: Final = re.compile(r" *(?P<unit>''|'|\"|[^\W\d_]+(?:\.(?![.0-9]))?)")
_NAMES: Final[Mapping[str, str]] = {
    "'": "ft", '"': "in", "''": "in", "inch": "in", "inches": "in", "ins": "in", "foot": "ft", "feet": "ft",
    "yard": "yd", "yards": "yd", "yds": "yd", "thousandth": "thou", "thousandths": "thou",
    "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "gram": "g", "grams": "g", "gm": "g",
    "kilogram": "kg", "kilograms": "kg", "kilo": "kg", "kilos": "kg", "ounce": "oz", "ounces": "oz",
    "lbs": "lb", "pound": "lb", "pounds": "lb",
}  # fmt: skip
_SMALLER: Final[Mapping[str, str]] = {"ft": "in", "lb": "oz"}
_MARKS: Final = str.maketrans(
    dict.fromkeys("′’‘ʹ´`", "'")
    | dict.fromkeys("″“”ʺ„", '"')
    | dict.fromkeys("\u00a0\u202f\u2009\u2007\t\r\n", " ")
    | dict.fromkeys("\u2212\u2013\u2014\u2010\u2011", "-")
    | {"\u2044": "/", "∼": "~", "≈": "~", "×": "x"}
)


def plain_marks(text: str) -> str:
    """The same text, character for character, with typographic marks as a plain keyboard has them."""
    return text.translate(_MARKS)


@dataclass(frozen=True, slots=True)
class Scanned:
    """A number found in a text: its value, its unit's short name (None: none stands there), its end.

    With a unit the value is in mm or g, without one as typed.
    """

    value: Fraction
    unit: str | None
    end: int


def scan_number(text: str, start: int = 0, *, fractions: bool = True) -> Scanned | None:
    """A number at ``start`` of a text with plain marks; None if none stands there.

    ``30``, ``12,7`` and, with ``fractions``, ``30 1/2``, ``30-1/2``, ``3/4``, ``6½``.
    """
    found = (_NUMBER if fractions else _DECIMAL).match(text, start)
    if found is None:
        return None
    part = found.groupdict() if fractions else {"decimal": found[0]}
    if part["decimal"]:
        value = Fraction(part["decimal"].replace(",", "."))
    elif part["sign"]:
        value = int(part["units"] or 0) + _FRACTIONS[part["sign"]]
    else:
        top, bottom = int(part["top"] or part["over"]), int(part["bottom"] or part["under"])
        if bottom == 0 or (part["whole"] and top >= bottom):
            return None
        value = int(part["whole"] or 0) + Fraction(top, bottom)
    return Scanned(value, None, found.end())


def scan_unit(text: str, start: int) -> tuple[str | None, int]:
    """The short name of the unit at ``start`` (any word, known or not) and where it ends."""
    found = _UNIT.match(text, start)
    if found is None:
        return None, start
    name = found["unit"].rstrip(".").lower()
    return _NAMES.get(name, name), found.end()


def scan_length(text: str, start: int = 0, *, fractions: bool = True) -> Scanned | None:
    """A length at ``start`` of a text with plain marks: in mm where a unit stands there, else as typed.

    ``5'6`` and ``6 ft 2 in`` are one length. A word that is no unit of length is left standing.
    """
    return scan_measure(text, start, MM_PER, fractions=fractions)


def scan_measure(
    text: str, start: int, factors: Mapping[str, Fraction], *, fractions: bool = True
) -> Scanned | None:
    """A number with one of the units in ``factors``; feet and inches, pounds and ounces are one value."""
    number = scan_number(text, start, fractions=fractions)
    if number is None:
        return None
    unit, end = scan_unit(text, number.end)
    if unit is None or unit not in factors:
        return number
    value = number.value * factors[unit]
    smaller = _SMALLER.get(unit)
    if smaller is not None:
        rest = scan_number(text, end + len(text[end:]) - len(text[end:].lstrip(" ")))
        if rest is not None:
            rest_unit, rest_end = scan_unit(text, rest.end)
            # 5'6 is five feet six; "6 ft 20" is not a length, and in "5', 6'" and "5' 6'" there are two.
            if rest_unit == smaller or (rest_unit is None and text[end - 1] == "'"):
                return Scanned(value + rest.value * factors[smaller], unit, rest_end)
    return Scanned(value, unit, end)
