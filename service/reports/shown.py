"""How the numbers in a picture are written: the viewer's units, handed in by the caller."""

from typing import Protocol

from plaitlog.models.units import LengthUnit


class Shown(Protocol):
    """Lengths and diameters as the viewer prefers to read them, apart from each other; all sizes in mm."""

    @property
    def lengths(self) -> LengthUnit: ...

    @property
    def diameters(self) -> LengthUnit: ...

    def length(self, mm: float) -> str:
        """A place along the thong with its unit."""
        ...

    def long_length(self, mm: float) -> str:
        """The length of a thong with its unit."""
        ...

    def diameter(self, mm: float) -> str:
        """A diameter with its unit."""
        ...

    def diameter_number(self, mm: float) -> str:
        """The same without its unit."""
        ...

    def interval(self, low_mm: float, high_mm: float) -> str:
        """Two diameters without their unit."""
        ...

    def number(self, text: str) -> str:
        """The text of a number with the decimal mark that is preferred."""
        ...
