"""Lengths, masses and linear densities shown as the viewer prefers: the writing half of ``units``."""

from fractions import Fraction
from typing import Final, Literal, get_args

from plaitlog.models.units_scan import G_PER, MM_PER

LengthUnit = Literal["mm", "cm", "m", "in", "ft"]
LengthStyle = Literal["mm", "cm", "m", "in", "in fraction", "ft-in"]
MassStyle = Literal["g", "kg", "oz", "lb-oz"]
DensityStyle = Literal["g/m", "ft/lb", "oz/yd"]

LENGTH_STYLES: Final[tuple[LengthStyle, ...]] = get_args(LengthStyle)
MASS_STYLES: Final[tuple[MassStyle, ...]] = get_args(MassStyle)
DENSITY_STYLES: Final[tuple[DensityStyle, ...]] = get_args(DensityStyle)


def show_length(mm: float, style: LengthStyle = "mm") -> str:
    """A length as the viewer prefers to read it.

    ``mm`` to 0.01, ``cm`` and ``m`` to 0.1 mm, ``in`` to 0.0001 in, ``in fraction`` and ``ft-in`` to 1/16 in.
    """
    if style == "ft-in":
        feet, inches = divmod(_sixteenths(mm), 12)
        parts = [f"{feet} ft"] if feet else []
        return " ".join(parts + ([f"{_mixed(inches)} in"] if inches or not feet else []))
    if style == "in fraction":
        return f"{_mixed(_sixteenths(mm))} in"
    places = {"mm": 2, "cm": 2, "m": 4, "in": 4}[style]
    return f"{_decimal(Fraction(mm) / MM_PER[style], places)} {style}"


def show_mass(g: float, style: MassStyle = "g") -> str:
    """A mass as the viewer prefers to read it: to 1 g, 0.001 kg, 0.01 oz or 1 lb 0.1 oz."""
    if style == "lb-oz":
        pounds, tenths = divmod(round(Fraction(g) / G_PER["oz"] * 10), 160)
        ounces = f"{_decimal(Fraction(tenths, 10), 1)} oz"
        return f"{pounds} lb {ounces}" if pounds else ounces
    places = {"g": 0, "kg": 3, "oz": 2}[style]
    return f"{_decimal(Fraction(g) / G_PER[style], places)} {style}"


def show_linear_density(g_per_m: float, style: DensityStyle = "g/m") -> str:
    """A linear density as the viewer prefers to read it: to 0.001 g/m, 1 ft/lb or 0.0001 oz/yd."""
    g_per_mm = Fraction(g_per_m) / 1000
    if style == "ft/lb":
        return f"{_decimal(G_PER['lb'] / MM_PER['ft'] / g_per_mm, 0)} ft/lb"
    if style == "oz/yd":
        return f"{_decimal(g_per_mm * MM_PER['yd'] / G_PER['oz'], 4)} oz/yd"
    return f"{_decimal(g_per_mm * 1000, 3)} g/m"


def exact_text(mm: float, unit: LengthUnit, *, fractions: bool = False, within_mm: float = 0.0) -> str:
    """The shortest number in ``unit`` that reads back as this many mm: exactly, or to ``within_mm``.

    With ``fractions`` as halves to sixteenths (``30 1/2``) where that will do.
    """
    factor = MM_PER[unit]
    value = Fraction(mm) / factor
    if fractions:
        for bottom in (1, 2, 4, 8, 16):
            near = Fraction(round(value * bottom), bottom)
            if abs(float(near * factor) - mm) <= within_mm:
                return _mixed(near)
    for places in range(25):
        near = Fraction(round(value * 10**places), 10**places)
        if abs(float(near * factor) - mm) <= within_mm:
            break
    return _decimal(near, places)


def _sixteenths(mm: float) -> Fraction:
    return Fraction(round(Fraction(mm) / MM_PER["in"] * 16), 16)


def _mixed(value: Fraction) -> str:
    whole, part = divmod(value, 1)
    if part == 0:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)


def _decimal(value: Fraction, places: int) -> str:
    scaled = round(value * 10**places)
    whole, part = divmod(abs(scaled), 10**places)
    tail = f"{part:0{places}d}".rstrip("0") if places else ""
    return f"{'-' if scaled < 0 else ''}{whole}{'.' if tail else ''}{tail}"
