"""Lengths and diameters as the viewer prefers to read them, apart from each other."""

from dataclasses import dataclass

from plaitlog.models.units import LengthUnit, show_length


@dataclass(frozen=True, slots=True)
class ShownUnits:
    """The units in which numbers are shown, and meant where they are typed without one."""

    lengths: LengthUnit = "in"
    diameters: LengthUnit = "mm"

    def length(self, mm: float) -> str:
        """A length or place: 30 1/2 in, 775 mm."""
        return show_length(mm, "in fraction") if self.lengths == "in" else f"{_short(mm, self.lengths)}"

    def long_length(self, mm: float) -> str:
        """The length of a thong: 5 ft 6 in, 1680 mm."""
        return show_length(mm, "ft-in") if self.lengths == "in" else _short(mm, self.lengths)

    def diameter(self, mm: float) -> str:
        """A diameter as calipers are read: 14.3 mm, 0.563 in."""
        return f"{self.diameter_number(mm)} {self.diameters}"

    def diameter_number(self, mm: float) -> str:
        """The same without its unit."""
        return f"{mm / 25.4:.3f}" if self.diameters == "in" else f"{mm:.1f}"

    def interval(self, low_mm: float, high_mm: float) -> str:
        return f"{self.diameter_number(low_mm)} to {self.diameter_number(high_mm)}"


def _short(mm: float, unit: LengthUnit) -> str:
    if unit == "mm":
        return show_length(round(mm), "mm")
    return show_length(mm, "ft-in" if unit == "ft" else unit)
