"""Scales and places on the sheet of a whip's drawing; the sheet is measured in mm of paper."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor
from typing import Final

from plaitlog.models.units import MM_PER, LengthUnit
from plaitlog.service.reports.drawn_whip import WhipDrawing
from plaitlog.service.reports.svg import number

SHEET_MM: Final = 297.0
"""Width of the sheet: A4 laid across (ISO 216)."""
LEFT, RIGHT, TOP = 47.0, 286.0, 33.0
STRIP: Final = 8.0
HALF: Final = 38.0
"""Most room above, and below, the centre line."""
ALONG: Final = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200)
ACROSS: Final = (12, 10, 8, 6, 5, 4, 3, 2.5, 2, 1.5, 1, 0.5, 0.25, 0.2)
TICKS: Final[dict[LengthUnit, tuple[float, ...]]] = {
    "in": (0.5, 1, 2, 3, 6, 12, 24, 48),
    "ft": (1 / 12, 0.25, 0.5, 1, 2, 4),
    "mm": (10, 20, 50, 100, 200, 500, 1000, 2000),
    "cm": (1, 2, 5, 10, 20, 50, 100, 200),
    "m": (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Where a station and a diameter lie: 1 : ``along`` along the thong, ``across`` : 1 across it.

    ``axis_y`` is the centre line; layers are drawn above it, the finished diameter below.
    """

    start_mm: float
    along: float
    across: float
    axis_y: float
    half: float

    def x(self, at_mm: float) -> float:
        return LEFT + (at_mm - self.start_mm) / self.along

    def above(self, diameter_mm: float) -> float:
        return self.axis_y - self.across * diameter_mm / 2

    def below(self, diameter_mm: float) -> float:
        return self.axis_y + self.across * diameter_mm / 2

    @property
    def stated(self) -> str:
        """Both scales in words, as they stand on the drawing."""
        across = f"{number(self.across)} : 1" if self.across >= 1 else f"1 : {number(1 / self.across)}"
        return f"Scale 1 : {number(self.along)} along, {across} across."


def scale_of(drawing: WhipDrawing) -> Scale:
    """The largest usual scales at which the whip goes on the sheet."""
    length = drawing.end_mm - drawing.start_mm
    along = next((x for x in ALONG if length / x <= RIGHT - LEFT), length / (RIGHT - LEFT))
    thickest = max(
        [
            1.0,
            drawing.handle_diameter_mm or 0.0,
            drawing.foundation_mm,
            *(section.high_90_mm for section in drawing.sections),
            *(reading.diameter_mm for reading in drawing.readings),
        ]
    )
    across = next((x for x in ACROSS if x * thickest / 2 <= HALF), 2 * HALF / thickest)
    half = across * thickest / 2 + 3
    top = TOP + STRIP * len(drawing.layers) + 3
    return Scale(start_mm=drawing.start_mm, along=along, across=across, axis_y=top + half, half=half)


def length_ticks(drawing: WhipDrawing, scale: Scale, apart: float = 15.0) -> Iterator[float]:
    """Round stations from the datum to the end, at least ``apart`` mm of paper from each other."""
    unit = float(MM_PER[drawing.shown.lengths])
    steps = TICKS[drawing.shown.lengths]
    step = next((x for x in steps if x * unit / scale.along >= apart), steps[-1]) * unit
    for k in range(ceil(max(drawing.start_mm, 0.0) / step), floor(drawing.end_mm / step + 1e-9) + 1):
        yield k * step


def diameter_ticks(drawing: WhipDrawing, scale: Scale, apart: float = 6.0) -> list[float]:
    """Round diameters in mm from 0, whose marks lie at least ``apart`` mm of paper from each other."""
    unit = float(MM_PER[drawing.shown.diameters])
    steps = (
        (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0) if drawing.shown.diameters == "in" else (1, 2, 5, 10, 20, 50)
    )
    step = next((x for x in steps if x * unit * scale.across / 2 >= apart), steps[-1]) * unit
    most = (scale.half - 3) * 2 / scale.across
    return [k * step for k in range(floor(most / step + 1e-9) + 1)]
