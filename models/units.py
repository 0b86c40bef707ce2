"""Lengths, masses and densities as a maker types them: read to mm, g and g/m, and shown again.

A leaf, with ``units_scan`` and ``units_show`` behind it; nothing else knows a conversion factor.
Text is read as an exact fraction and rounded once, at the end, so that what was typed can be shown again.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from plaitlog.models.errors import Finding, UnitError
from plaitlog.models.units_scan import (
    G_PER,
    MM_PER,
    Scanned,
    plain_marks,
    scan_measure,
    scan_number,
    scan_unit,
)
from plaitlog.models.units_show import (
    DENSITY_STYLES,
    LENGTH_STYLES,
    MASS_STYLES,
    DensityStyle,
    LengthStyle,
    LengthUnit,
    MassStyle,
    exact_text,
    show_length,
    show_linear_density,
    show_mass,
)

__all__ = [
    "DENSITY_STYLES", "DIAMETER", "DIAMETER_LIMIT_MM", "FIBRE_DENSITY",
    "FIBRE_DENSITY_LIMIT_G_PER_CM3", "GIRTH", "GIRTH_LIMIT_MM", "G_PER", "LENGTH",
    "LENGTH_LIMIT_MM", "LENGTH_STYLES", "LINEAR_DENSITY", "LINEAR_DENSITY_LIMIT_G_PER_M", "MASS",
    "MASS_LIMIT_G", "MASS_STYLES", "MM_PER", "THICKNESS", "DensityStyle", "LengthStyle",
    "LengthUnit", "MassStyle", "Quantity", "check_value", "exact_text", "parse_diameter",
    "parse_fibre_density", "parse_girth", "parse_length", "parse_linear_density", "parse_mass",
    "parse_thickness", "show_length", "show_linear_density", "show_mass",
]  # fmt: skip

# What is beyond these limits is no whip (own limits, wide on purpose).
DIAMETER_LIMIT_MM: Final = 200.0
GIRTH_LIMIT_MM: Final = math.pi * DIAMETER_LIMIT_MM
LENGTH_LIMIT_MM: Final = 20_000.0
MASS_LIMIT_G: Final = 20_000.0
LINEAR_DENSITY_LIMIT_G_PER_M: Final = 500.0
FIBRE_DENSITY_LIMIT_G_PER_CM3: Final = 25.0


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a number stands for: a name, the unit it is stored in, and what is absurd.

    ``units`` are those a maker can mean, with their factors, the likeliest first; ``usual`` spans the
    values found on whips and serves only to name the likely unit. ``zero``: 0 is a value, not a mistake.
    """

    name: str
    stored: str
    units: Mapping[str, Fraction]
    limit: float
    usual: tuple[float, float]
    zero: bool = False


def _units(factors: Mapping[str, Fraction], *names: str) -> Mapping[str, Fraction]:
    return {name: factors[name] for name in names}


LENGTH: Final = Quantity(
    "length", "mm", _units(MM_PER, "in", "mm", "ft", "cm", "m", "yd"), LENGTH_LIMIT_MM, (100, 6000), zero=True
)
DIAMETER: Final = Quantity(
    "diameter", "mm", _units(MM_PER, "mm", "in", "cm", "thou"), DIAMETER_LIMIT_MM, (2, 60)
)
THICKNESS: Final = Quantity(
    "thickness", "mm", _units(MM_PER, "mm", "in", "thou", "cm"), DIAMETER_LIMIT_MM, (0.02, 10)
)
GIRTH: Final = Quantity("girth", "mm", _units(MM_PER, "mm", "cm", "in"), GIRTH_LIMIT_MM, (6, 190))
MASS: Final = Quantity("mass", "g", _units(G_PER, "g", "oz", "kg", "lb"), MASS_LIMIT_G, (20, 3000))
LINEAR_DENSITY: Final = Quantity(
    "linear density",
    "g/m",
    {"g/m": Fraction(1), "oz/yd": G_PER["oz"] / MM_PER["yd"] * 1000},
    LINEAR_DENSITY_LIMIT_G_PER_M,
    (0.3, 60),
)
FIBRE_DENSITY: Final = Quantity(
    "fibre density",
    "g/cm3",
    {"g/cm3": Fraction(1), "kg/m3": Fraction(1, 1000)},
    FIBRE_DENSITY_LIMIT_G_PER_CM3,
    (0.5, 12),
)

_PER: Final = re.compile(r" *(?:/| per ) *")
_LONGEST_TEXT: Final = 80


def parse_length(text: str, *, unit: LengthUnit | None = None, quantity: Quantity = LENGTH) -> float:
    """Millimetres of a length as typed; ``unit`` is the declared one, used where the text has none.

    Raises
    ------
    UnitError
        Where the text is no length, or has no unit, a unit that cannot be meant, or an absurd value.
    """
    return _parse(text, quantity, MM_PER, unit)


def parse_diameter(text: str, *, unit: LengthUnit | None = None) -> float:
    """Millimetres of a diameter as typed, above 0 and at most 200 mm."""
    return _parse(text, DIAMETER, MM_PER, unit)


def parse_thickness(text: str, *, unit: LengthUnit | None = None) -> float:
    """Millimetres of the thickness of a tape, a binding or a pressed cord as typed."""
    return _parse(text, THICKNESS, MM_PER, unit)


def parse_girth(text: str, *, unit: LengthUnit | None = None) -> float:
    """Millimetres of a girth as typed, above 0 and at most pi times 200 mm."""
    return _parse(text, GIRTH, MM_PER, unit)


def parse_mass(text: str, *, unit: str | None = None) -> float:
    """Grams of a mass as typed in g, kg, oz or lb."""
    return _parse(text, MASS, G_PER, unit)


def parse_linear_density(text: str, *, unit: str | None = None) -> float:
    """Grams per metre as typed: ``7.2 g/m``, ``72 g / 10 m``, ``225 ft/lb``, ``0.25 oz/yd``.

    Mass over length or length over mass; either side may carry a number.
    """
    line = _prepared(text, LINEAR_DENSITY)
    number = _number(line, text, LINEAR_DENSITY)
    if number.end == len(line):
        if unit is None:
            raise _unit_missing(text, number.value, LINEAR_DENSITY)
        line = f"{line} {unit}"
    name, end = scan_unit(line, number.end)
    per = _PER.match(line, end)
    under = None
    if per is not None:
        rest = line[per.end() :]
        under = scan_measure(rest if scan_number(rest) else f"1 {rest}", 0, {**MM_PER, **G_PER})
    over = scan_measure(line, 0, {**MM_PER, **G_PER})
    if over is None or over.unit is None or under is None or under.unit is None:
        raise _wrong_unit(text, line[number.end :].strip(), number.value, LINEAR_DENSITY)
    if (over.unit in G_PER) == (under.unit in G_PER) or name != over.unit:
        raise _wrong_unit(text, line[number.end :].strip(), number.value, LINEAR_DENSITY)
    mass, length = (over, under) if over.unit in G_PER else (under, over)
    if length.value == 0:
        raise _not_a_size(text, LINEAR_DENSITY)
    return _within(mass.value / length.value * 1000, text, LINEAR_DENSITY)


def parse_fibre_density(text: str, *, unit: str | None = None) -> float:
    """Grams per cubic centimetre as typed in g/cm3 (also g/cm³) or kg/m3."""
    line = _prepared(text, FIBRE_DENSITY)
    number = _number(line, text, FIBRE_DENSITY)
    name = line[number.end :].replace(" ", "").replace("³", "3").lower() or unit
    if name is None:
        raise _unit_missing(text, number.value, FIBRE_DENSITY)
    if name not in FIBRE_DENSITY.units:
        raise _wrong_unit(text, name, number.value, FIBRE_DENSITY)
    return _within(number.value * FIBRE_DENSITY.units[name], text, FIBRE_DENSITY)


def check_value(value: float, quantity: Quantity) -> float:
    """The value as given in its stored unit, refused where it is not finite, not a size, or absurd."""
    if 0 < value <= quantity.limit or (value == 0 and quantity.zero):
        return value
    if not math.isfinite(value):
        raise UnitError(
            Finding("not-finite", f"{value} is not a {quantity.name}", "give a number, or leave it out")
        )
    return _within(Fraction(value), f"{value:g} {quantity.stored}", quantity)


def _prepared(text: str, quantity: Quantity) -> str:
    if len(text) > _LONGEST_TEXT:
        raise _unreadable(text[:20] + "...", quantity)
    return plain_marks(text).strip()


def _number(line: str, text: str, quantity: Quantity) -> Scanned:
    number = scan_number(line)
    if number is not None:
        return number
    if line.startswith("-") and scan_number(line[1:].lstrip()) is not None:
        raise _not_a_size(text, quantity)
    raise _unreadable(text, quantity)


def _parse(text: str, quantity: Quantity, factors: Mapping[str, Fraction], declared: str | None) -> float:
    line = _prepared(text, quantity)
    number = _number(line, text, quantity)
    found = scan_measure(line, 0, factors)
    if found is None or found.unit is None:
        unit, end = scan_unit(line, number.end)
        if unit is not None:
            raise _wrong_unit(
                text, line[number.end :].strip() if end < len(line) else unit, number.value, quantity
            )
        if number.end < len(line):
            raise _unreadable(text, quantity)
        if declared is None:
            raise _unit_missing(text, number.value, quantity)
        return _within(number.value * factors[declared], text, quantity)
    if found.end < len(line):
        raise _unreadable(text, quantity)
    if found.unit not in quantity.units:
        raise _wrong_unit(text, found.unit, number.value, quantity)
    return _within(found.value, text, quantity)


def _within(value: Fraction, text: str, quantity: Quantity) -> float:
    if value < 0 or (value == 0 and not quantity.zero):
        raise _not_a_size(text, quantity)
    if float(value) > quantity.limit:
        limit = f"{quantity.limit:.0f} {quantity.stored}"
        raise UnitError(
            Finding(
                "absurd",
                f"{text.strip()!r} is more than any {quantity.name} ({limit})",
                "check number and unit",
            )
        )
    return float(value)


def _not_a_size(text: str, quantity: Quantity) -> UnitError:
    least = "0 or more" if quantity.zero else "more than 0"
    return UnitError(
        Finding("not-a-size", f"{text.strip()!r} is not a {quantity.name}", f"give a number that is {least}")
    )


def _unreadable(text: str, quantity: Quantity) -> UnitError:
    sample = {"g": "412 g", "g/m": "7.2 g/m", "g/cm3": "1.14 g/cm3"}.get(quantity.stored)
    if sample is None:
        sample = "5' 6 1/2\", 30 1/2 in or 1.2 m" if quantity is LENGTH else "12.7 mm or 1/2 in"
    return UnitError(
        Finding("unreadable", f"{text.strip()!r} is not a {quantity.name}", f"write it like {sample}")
    )


def _unit_missing(text: str, number: Fraction, quantity: Quantity) -> UnitError:
    remedy = f"write {_likely(text.strip(), number, quantity)}"
    return UnitError(Finding("unit-missing", f"no unit in {text.strip()!r}", remedy))


def _wrong_unit(text: str, unit: str, number: Fraction, quantity: Quantity) -> UnitError:
    known = unit in MM_PER or unit in G_PER
    what = (
        f"a {quantity.name} cannot be meant in {unit}" if known else f"{unit!r} is no unit of {quantity.name}"
    )
    typed = plain_marks(text).strip()
    scanned = scan_number(typed)
    likely = _likely(typed[: scanned.end] if scanned else "", number, quantity)
    return UnitError(Finding("unit-wrong", f"{text.strip()!r}: {what}", f"write {likely}"))


def _likely(number_text: str, number: Fraction, quantity: Quantity) -> str:
    """The number with the units in which it would be usual, else with the two commonest."""
    low, high = quantity.usual
    usual = [unit for unit, factor in quantity.units.items() if low <= number * factor <= high]
    names = (usual or list(quantity.units))[:2]
    return " or ".join(f"'{number_text} {name}'" for name in names)
