"""Lengths and diameters as the viewer prefers to read them, apart from each other."""

from dataclasses import dataclass
from typing import Final

from plaitlog.models.units import LengthUnit, show_length

MINUS: Final = "\u2212"


@dataclass(frozen=True, slots=True)
class ShownUnits:
    """The units in which numbers are shown, and meant where they are typed without one.

    fractions : inches as 30 1/2, else as 30.5.
    decimal_comma : 14,3 instead of 14.3.
    """

    lengths: LengthUnit = "in"
    diameters: LengthUnit = "mm"
    fractions: bool = True
    decimal_comma: bool = False

    def length(self, mm: float) -> str:
        """A length or place: 30 1/2 in, 775 mm."""
        if self.lengths != "in":
            return self.number(_short(mm, self.lengths))
        if self.fractions:
            return show_length(mm, "in fraction")
        return self.number(f"{mm / 25.4:.1f}".removesuffix(".0") + " in")

    def long_length(self, mm: float) -> str:
        """The length of a thong: 5 ft 6 in, 1680 mm."""
        return show_length(mm, "ft-in") if self.lengths == "in" else self.number(_short(mm, self.lengths))

    def diameter(self, mm: float) -> str:
        """A diameter as calipers are read: 14.3 mm, 0.563 in."""
        return f"{self.diameter_number(mm)} {self.diameters}"

    def diameter_number(self, mm: float) -> str:
        """The same without its unit."""
        return self.number(f"{mm / 25.4:.3f}" if self.diameters == "in" else f"{mm:.1f}")

    def difference(self, mm: float) -> str:
        """A difference of two diameters, without its unit: +0.3, -0.1, 0.0."""
        size = self.diameter_number(abs(mm))
        nothing = not size.strip("0.,")
        return size if nothing else ("+" if mm > 0 else MINUS) + size

    def interval(self, low_mm: float, high_mm: float) -> str:
        return f"{self.diameter_number(low_mm)} to {self.diameter_number(high_mm)}"

    def plus_minus(self, half_mm: float) -> str:
        """Half of an interval, to a hundredth of a millimetre: what single measurements bring may be less
        than a tenth."""
        text = f"{half_mm / 25.4:.4f}" if self.diameters == "in" else f"{half_mm:.2f}"
        return f"± {self.number(text)} {self.diameters}"

    def number(self, text: str) -> str:
        """The text of a number with the decimal mark that is preferred."""
        return text.replace(".", ",") if self.decimal_comma else text


def _short(mm: float, unit: LengthUnit) -> str:
    if unit == "mm":
        return show_length(round(mm), "mm")
    return show_length(mm, "ft-in" if unit == "ft" else unit)
