"""The chart of a cord as a Vega-Lite specification: bands, curves, readings, names."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from plaitlog.models.units import MM_PER
from plaitlog.service.reports.cord_chart import ChartCurve, ChartReading, CordChart, Mark, over_text
from plaitlog.service.reports.pictures import FONT

if TYPE_CHECKING:
    from altair import Chart, Color, TitleParams

SYMBOLS: Final[Mapping[Mark, str]] = {"reading": "circle", "test plait": "diamond", "doubtful": "cross"}
FAR_OFF: Final = 1.5
WIDTH, HEIGHT = 640, 420
NEAR_BLACK, GREY = "#1a1a1a", "#595959"
SHADES: Final = ("#150d33", "#28397f", "#1c6478", "#33874a", "#9d9510")
"""From dark to light with the inner diameter, so that no two are told by hue alone."""


def is_far_off(reading: ChartReading) -> bool:
    """Whether a reading is out of all proportion to what is expected, by more than half."""
    return not 1 / FAR_OFF < reading.diameter_mm / reading.expected_mm < FAR_OFF


def specification(chart: CordChart) -> dict[str, Any]:
    """The chart as a Vega-Lite specification with its data inside."""
    import altair as alt

    told = _title(chart)
    # A slip of the pen would press everything else together; the title names it instead.
    chart = replace(chart, readings=tuple(one for one in chart.readings if not is_far_off(one)))
    unit = chart.shown.diameters
    over = _over_scale(chart, unit)
    layers = [
        _band(chart, unit, over),
        _lines(chart, unit, over),
        *_points(chart, unit, over),
        *_names(chart, unit),
    ]
    whole = (
        alt.layer(*layers)
        .resolve_scale(shape="independent", strokeDash="independent")
        .properties(width=WIDTH, height=HEIGHT, title=told, background="white", padding=14)
        .configure(font=FONT)
        .configure_view(stroke="#888888")
        .configure_axis(
            gridColor="#e2e2e2", domainColor=GREY, tickColor=GREY, labelColor=NEAR_BLACK, labelFontSize=12,
            titleColor=NEAR_BLACK, titleFontSize=13, titleFontWeight="normal",
        )
        .configure_legend(
            labelColor=NEAR_BLACK, labelFontSize=12, titleColor=NEAR_BLACK, titleFontWeight="normal",
            orient="bottom", direction="horizontal", labelLimit=0,
        )
    )  # fmt: skip
    found: dict[str, Any] = whole.to_dict()
    return found


def _title(chart: CordChart) -> "TitleParams":
    import altair as alt

    lines = [
        f"Median and 90 % interval for the next caliper reading{chart.asked}.",
        "Solid where the strands cover; dashed where gaps show or strands bunch.",
        f"{_sentence(chart.rests_on)}. {chart.caution}",
        *(
            f"{_sentence(finding.text.replace(chart.cord, _cut(chart.cord, 60)))}."
            for finding in chart.findings
            if finding.code in TOLD
        ),
        *_readings_lines(chart),
    ]
    return alt.TitleParams(
        text=f"{_cut(chart.cord, 60)}: how thick one plait of it comes out",
        subtitle=[_cut(line, 120) for line in lines],
        anchor="start", fontSize=17, subtitleFontSize=12, subtitleColor=NEAR_BLACK, color=NEAR_BLACK,
        subtitlePadding=6, offset=12, subtitleLineHeight=16,
    )  # fmt: skip


TOLD: Final = frozenset({"stale-fit", "new-cord", "cord-not-weighed"})
"""Findings that are said in the picture itself, since a picture travels without its command."""


def _readings_lines(chart: CordChart) -> Iterator[str]:
    drawn, there = len(chart.readings), chart.readings_in_all
    if not there:
        yield "No reading on a plait of this cord is recorded."
        return
    of = f"{drawn} readings" if drawn == there else f"{drawn} of {there} readings, evenly chosen,"
    yield f"{of} on plaits of this cord, each in the shade of the body under it."
    far = [one for one in chart.readings if is_far_off(one)]
    if far:
        number = chart.shown.diameter_number
        named = [
            f"{number(x.diameter_mm)} for {number(x.expected_mm)} on {_cut(x.whip, 24)}" for x in far[:3]
        ]
        more = f" and {len(far) - 3} more" if len(far) > 3 else ""
        yield f"Far off what is expected, look again, not drawn: {', '.join(named)}{more}."


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _cut(text: str, length: int) -> str:
    return text if len(text) <= length else f"{text[: length - 1]}…"


def _sized(mm: float, unit: str) -> float:
    return round(mm / float(MM_PER[unit]), 4)


def _over_scale(chart: CordChart, unit: str) -> "Color":
    import altair as alt

    sizes = [curve.over_mm for curve in chart.curves] + [reading.over_mm for reading in chart.readings]
    low, high = _sized(min(sizes), unit), _sized(max(sizes), unit)
    scale = alt.Scale(domain=[low, high if high > low else low + 1], range=list(SHADES), interpolate="lab")
    return alt.Color("over:Q", scale=scale, legend=None)


def _counts(chart: CordChart) -> list[int]:
    return sorted({point.strands for curve in chart.curves for point in curve.points})


def _axes(chart: CordChart, unit: str, field: str = "diameter") -> dict[str, Any]:
    import altair as alt

    counts = _counts(chart)
    everything = [*counts, *(reading.strands for reading in chart.readings)]
    left, most = min(everything) - 1, max(everything)
    # Room at the right for the names of the curves, a fifth of the width.
    right = most + max(1.0, (most - left) / 4)
    ticks = list(range(2 * (int(left) // 2), int(right) + 1, 2))
    return {
        "x": alt.X(
            "strands:Q",
            title=_x_title(chart),
            scale=alt.Scale(domain=[left, right], nice=False, zero=False),
            axis=alt.Axis(values=[tick for tick in ticks if left <= tick <= most], format="d"),
        ),
        "y": alt.Y(
            f"{field}:Q",
            title=f"finished diameter ({unit})",
            scale=alt.Scale(zero=False, nice=True),
            axis=alt.Axis(tickCount=10),
        ),
    }


def _x_title(chart: CordChart) -> str:
    aside = " (readings of one count are set side by side)" if chart.readings else ""
    return f"strands in the plait{aside}"


def _rows(curves: Iterable[ChartCurve], unit: str) -> list[dict[str, Any]]:
    return [
        {
            "over": _sized(curve.over_mm, unit),
            "strands": point.strands,
            "diameter": _sized(point.diameter_mm, unit),
            "low": _sized(point.low_90_mm, unit),
            "high": _sized(point.high_90_mm, unit),
            "well": point.lies_well,
        }
        for curve in curves
        for point in curve.points
    ]


def _band(chart: CordChart, unit: str, over: "Color") -> "Chart":
    import altair as alt

    base = alt.Chart(alt.InlineData(values=_rows(chart.curves, unit))).mark_area(opacity=0.16)
    band: Chart = base.encode(**_axes(chart, unit, "low"), y2="high:Q", detail="over:Q", color=over)
    return band


def _lines(chart: CordChart, unit: str, over: "Color") -> "Chart":
    """Every stretch between neighbouring counts, solid where both ends lie well."""
    import altair as alt

    rows: list[dict[str, Any]] = []
    for curve in chart.curves:
        points = _rows([curve], unit)
        for number, pair in enumerate(pairwise(points)):
            solid = all(point["well"] for point in pair)
            stretch = f"{curve.over_mm:g} {number}"
            rows.extend({**point, "stretch": stretch, "lies": solid} for point in pair)
    dash = alt.StrokeDash(
        "lies:N", scale=alt.Scale(domain=[True, False], range=[[1, 0], [4, 4]]), legend=None
    )
    base = alt.Chart(alt.InlineData(values=rows)).mark_line(strokeWidth=2.2)
    lines: Chart = base.encode(**_axes(chart, unit), detail="stretch:N", color=over, strokeDash=dash)
    return lines


def _points(chart: CordChart, unit: str, over: "Color") -> "list[Chart]":
    import altair as alt

    if not chart.readings:
        return []
    rows = [
        {
            "over": _sized(reading.over_mm, unit),
            "strands": round(reading.strands + aside, 3),
            "diameter": _sized(reading.diameter_mm, unit),
            "mark": reading.mark,
        }
        for reading, aside in _spread(chart.readings)
    ]
    marks = [mark for mark in SYMBOLS if any(reading.mark == mark for reading in chart.readings)]
    shape = alt.Shape(
        "mark:N",
        title=None,
        scale=alt.Scale(domain=marks, range=[SYMBOLS[mark] for mark in marks]),
        legend=alt.Legend(symbolFillColor=GREY, symbolStrokeColor=GREY, symbolSize=70),
    )
    return [
        alt.Chart(alt.InlineData(values=rows))
        .mark_point(filled=True, size=46, opacity=0.85, stroke="white", strokeWidth=0.6)
        .encode(**_axes(chart, unit), color=over, shape=shape)
    ]


ASIDE: Final = (0.0, -0.24, 0.24, -0.48, 0.48)


def _spread(readings: Sequence[ChartReading]) -> Iterator[tuple[ChartReading, float]]:
    """Readings of one count beside each other, so that they can be told apart."""
    so_far: dict[float, int] = {}
    for reading in sorted(readings, key=lambda reading: (reading.strands, reading.diameter_mm)):
        number = so_far[reading.strands] = so_far.get(reading.strands, -1) + 1
        yield reading, ASIDE[number % len(ASIDE)]


def _names(chart: CordChart, unit: str) -> "list[Chart]":
    """Each curve is named at its end, on a white halo."""
    import altair as alt

    rows = []
    for curve in chart.curves:
        last = curve.points[-1]
        named = over_text(curve.over_mm, chart.shown)
        rows.append({"strands": last.strands, "diameter": _sized(last.diameter_mm, unit), "name": named})
    base = alt.Chart(alt.InlineData(values=rows)).encode(**_axes(chart, unit), text="name:N")
    halo: Chart = base.mark_text(
        align="left", dx=8, fontSize=12, fontWeight="bold", stroke="white", strokeWidth=4, color="white"
    )
    name: Chart = base.mark_text(align="left", dx=8, fontSize=12, fontWeight="bold", color=NEAR_BLACK)
    return [halo, name]
