"""Chart of one cord: the finished diameter of a plait of it against strand count and inner diameter.

Strand counts lie along the axis, one curve for each body that is plaited over; readings lie at their count
and diameter, in the shade of the body that was under them. Shades run with the inner diameter from dark to
light, so that the picture can be read in black and white and by everybody.
"""

from dataclasses import dataclass
from typing import Literal

from plaitlog.models.errors import Finding
from plaitlog.service.reports.shown import Shown

Mark = Literal["reading", "test plait", "doubtful"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """One strand count over one body: median and 90 % interval in mm.

    ``lies_well``: the strands cover without bunching.
    """

    strands: int
    diameter_mm: float
    low_90_mm: float
    high_90_mm: float
    cover: float | None
    lies_well: bool


@dataclass(frozen=True, slots=True)
class ChartCurve:
    """The plait over a body of ``over_mm`` (0: over nothing), by rising strand count."""

    over_mm: float
    points: tuple[ChartPoint, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartReading:
    """A recorded reading on a plait of this cord: over what it lay, and what the fit expects there; mm."""

    whip: str
    at_mm: float
    strands: float
    over_mm: float
    diameter_mm: float
    expected_mm: float
    mark: Mark = "reading"


@dataclass(frozen=True, slots=True, kw_only=True)
class CordChart:
    """What the chart shows. ``rests_on`` and ``asked`` stand under the title, findings below the table."""

    cord: str
    curves: tuple[ChartCurve, ...]
    readings: tuple[ChartReading, ...]
    shown: Shown
    rests_on: str
    caution: str
    asked: str = ""
    readings_in_all: int = 0
    findings: tuple[Finding, ...] = ()


def over_text(over_mm: float, shown: Shown) -> str:
    """The body that is plaited over: over 8.0 mm, over nothing."""
    return "over nothing" if over_mm == 0 else f"over {shown.diameter(over_mm)}"


def to_table(chart: CordChart) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heads and rows: strand counts down, bodies across; of a single body the interval and cover as well.

    A figure in brackets is of strands that do not lie well: gaps show, or they bunch.
    """
    shown = chart.shown
    if len(chart.curves) == 1:
        curve = chart.curves[0]
        heads = ("strands", f"finished, {over_text(curve.over_mm, shown)}", "90 %", "cover")
        return heads, [
            (
                str(point.strands),
                _bracketed(shown.diameter(point.diameter_mm), point),
                shown.interval(point.low_90_mm, point.high_90_mm),
                "" if point.cover is None else f"{point.cover:.2f}",
            )
            for point in curve.points
        ]
    cells = {(curve.over_mm, point.strands): point for curve in chart.curves for point in curve.points}
    counts = sorted({strands for _, strands in cells})
    heads_of_all = ("strands", *(f"{over_text(curve.over_mm, shown)}" for curve in chart.curves))
    rows = []
    for strands in counts:
        row = [str(strands)]
        for curve in chart.curves:
            point = cells.get((curve.over_mm, strands))
            row.append("" if point is None else _cell(point, shown))
        rows.append(tuple(row))
    return heads_of_all, rows


def _cell(point: ChartPoint, shown: Shown) -> str:
    interval = f"{shown.diameter_number(point.low_90_mm)}-{shown.diameter_number(point.high_90_mm)}"
    return _bracketed(f"{shown.diameter_number(point.diameter_mm)}  {interval}", point)


def _bracketed(text: str, point: ChartPoint) -> str:
    return f"{text} " if point.lies_well else f"({text})"


def to_svg(chart: CordChart) -> str:
    """The chart as SVG on a white ground of its own; the same bytes for the same chart."""
    from plaitlog.service.reports.chart_marks import specification
    from plaitlog.service.reports.picture_fonts import converter

    return str(converter().vegalite_to_svg(specification(chart)))
