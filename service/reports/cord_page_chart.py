"""The chart of a cord on a page: finished diameter against strand count, a curve for each body under it.

Curves lie in their 90 % intervals, dashed where gaps show or strands bunch; the thicker the body, the paler.
Readings lie at their count and diameter, as pale as the curve whose body is nearest to theirs.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Final

from plaitlog.models.units import MM_PER
from plaitlog.service.reports.chart_marks import is_far_off
from plaitlog.service.reports.cord_chart import ChartCurve, ChartReading, CordChart, over_text
from plaitlog.service.reports.page_charts import BOTTOM, LEFT, TOP, WIDTH, Axis, chart, dot, grid, words_at
from plaitlog.service.reports.svg import element, path, title, width_of

HEIGHT: Final = 300.0
PALEST: Final = 0.45
NEAR_SHARE, NEAR_MM = 0.1, 0.5
"""In a chart of a single body readings count whose body differs by no more than this (own judgement)."""
ASIDE: Final = (0.0, -0.25, 0.25, -0.5, 0.5)
"""Strands by which readings of one count are set side by side."""
LINE: Final = 12.0
At = Callable[[float, float], tuple[float, float]]
"""Where a strand count and a diameter in mm lie on paper."""


class _Counts(Axis):
    """Strands go in pairs: only even counts are marked."""

    def ticks(self, about: int = 5) -> list[float]:
        step = 2 * max(1, round((self.high - self.low) / 2 / about))
        first = step * -(-self.low // step)
        return [first + step * k for k in range(int((self.high - first) // step) + 1)]


def to_page_svg(drawn: CordChart) -> str:
    """The chart in the colours of the page around it, one unit a pixel on a narrow screen."""
    mm = float(MM_PER[drawn.shown.diameters])
    shades = _shades(drawn.curves)
    names = [over_text(curve.over_mm, drawn.shown) for curve in drawn.curves]
    room = max(width_of(name, 11.0) for name in names) + 12
    readings = readings_drawn(drawn)
    across, up = _axes(drawn.curves, readings, mm, room)

    def at(strands: float, size_mm: float) -> tuple[float, float]:
        return across.at(strands), up.at(size_mm / mm)

    parts = list(grid(across, up, "strands in the plait", f"finished diameter ({drawn.shown.diameters})"))
    for curve, shade in zip(drawn.curves, shades, strict=True):
        parts.append(_band(curve, at, shade))
    for curve, shade in zip(drawn.curves, shades, strict=True):
        parts.extend(_line(curve, at, shade))
    for reading, aside in _side_by_side(readings):
        x, y = at(reading.strands + aside, reading.diameter_mm)
        parts.append(_mark(x, y, reading, drawn, shades[_nearest(drawn.curves, reading)]))
    parts.extend(_names(drawn.curves, names, at))
    return chart(f"{drawn.cord}: finished diameter against strand count", HEIGHT, *parts)


def readings_drawn(drawn: CordChart) -> list[ChartReading]:
    """Of a single body only those on bodies like it; none that is out of all proportion."""
    sound = [one for one in drawn.readings if not is_far_off(one)]
    if len(drawn.curves) > 1:
        return sound
    over = drawn.curves[0].over_mm
    return [one for one in sound if abs(one.over_mm - over) <= NEAR_SHARE * over + NEAR_MM]


def _shades(curves: Sequence[ChartCurve]) -> list[float]:
    step = (1 - PALEST) / max(len(curves) - 1, 1)
    return [1 - step * k for k in range(len(curves))]


def _nearest(curves: Sequence[ChartCurve], reading: ChartReading) -> int:
    return min(range(len(curves)), key=lambda k: abs(curves[k].over_mm - reading.over_mm))


def _axes(
    curves: Sequence[ChartCurve], readings: Sequence[ChartReading], mm: float, room: float
) -> tuple[Axis, Axis]:
    counts = [float(point.strands) for curve in curves for point in curve.points]
    counts += [reading.strands for reading in readings]
    sizes = [
        size for curve in curves for point in curve.points for size in (point.low_90_mm, point.high_90_mm)
    ]
    sizes += [reading.diameter_mm for reading in readings]
    space = 0.04 * (max(sizes) - min(sizes))
    low, high = max(min(sizes) - space, 0.0) / mm, (max(sizes) + space) / mm
    across = _Counts(min(counts) - 1, max(counts) + 1, LEFT, WIDTH - room)
    return across, Axis(low, high, HEIGHT - BOTTOM, TOP)


def _band(curve: ChartCurve, at: At, shade: float) -> str:
    there = [at(point.strands, point.low_90_mm) for point in curve.points]
    back = [at(point.strands, point.high_90_mm) for point in reversed(curve.points)]
    return path([*there, *back], closed=True, class_="chance", fill_opacity=0.3 + 0.4 * shade)


def _line(curve: ChartCurve, at: At, shade: float) -> Iterator[str]:
    for first, second in pairwise(curve.points):
        dash = "none" if first.lies_well and second.lies_well else "4 4"
        ends = [at(point.strands, point.diameter_mm) for point in (first, second)]
        yield path(ends, class_="target", fill="none", stroke_width=1.8, opacity=shade, stroke_dasharray=dash)


def _mark(x: float, y: float, reading: ChartReading, drawn: CordChart, shade: float) -> str:
    shown = drawn.shown
    words = title(
        f"{reading.whip} at {shown.length(reading.at_mm)}: {reading.strands:g} strands "
        f"{over_text(reading.over_mm, shown)}, {shown.diameter(reading.diameter_mm)} read, "
        f"{shown.diameter(reading.expected_mm)} expected"
    )
    if reading.mark == "test plait":
        size = 4.0
        corners = [(x, y - size), (x + size, y), (x, y + size), (x - size, y)]
        return element("g", words, path(corners, closed=True, class_="new"), opacity=shade)
    return element("g", words, dot(x, y, reading.mark == "reading"), opacity=shade)


def _side_by_side(readings: Sequence[ChartReading]) -> Iterator[tuple[ChartReading, float]]:
    so_far: dict[float, int] = {}
    for reading in sorted(readings, key=lambda one: (one.strands, one.diameter_mm)):
        number = so_far[reading.strands] = so_far.get(reading.strands, -1) + 1
        yield reading, ASIDE[number % len(ASIDE)]


def _names(curves: Sequence[ChartCurve], names: Sequence[str], at: At) -> Iterator[str]:
    """Each curve is named at its end; names that would lie on each other are moved apart."""
    ends = [at(curve.points[-1].strands, curve.points[-1].diameter_mm) for curve in curves]
    below = HEIGHT
    for (x, y), name in sorted(zip(ends, names, strict=True), key=lambda one: -one[0][1]):
        placed = min(y + 4, below - LINE)
        yield words_at(x + 6, placed, name, "small")
        below = placed
