"""The charts of a fit's report."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import sqrt

from plaitlog.models.calibration.evidence import Coverage, HeldReading
from plaitlog.models.units import MM_PER
from plaitlog.service.reports.fit_report import CordInFit
from plaitlog.service.reports.page_charts import (
    BOTTOM,
    LEFT,
    LETTER,
    RIGHT,
    TOP,
    WIDTH,
    Axis,
    bottom_axis,
    chart,
    dot,
    grid,
    rule,
    spread_of,
    words_at,
)
from plaitlog.service.reports.shown import Shown
from plaitlog.service.reports.svg import fitted, path, rect


def agreement(held: Sequence[HeldReading], shown: Shown) -> str:
    """Predicted against measured diameters of held-out readings; outside of the 90 % interval as rings."""
    unit = shown.diameters
    per = float(MM_PER[unit])
    sizes = [x / per for one in held for x in (one.measured_mm, one.predicted_mm)]
    low, high = spread_of(sizes)
    height = 330.0
    across = Axis(low, high, LEFT, WIDTH - RIGHT)
    up = Axis(low, high, height - BOTTOM, TOP)
    marks = [
        dot(across.at(one.predicted_mm / per), up.at(one.measured_mm / per), _inside(one))
        for one in sorted(held, key=_inside, reverse=True)
    ]
    return chart(
        f"Predicted against measured diameter of {len(held)} held-out readings",
        height,
        *grid(across, up, f"predicted ({unit})", f"measured ({unit})"),
        rule(across.at(low), up.at(low), across.at(high), up.at(high), "target"),
        *marks,
    )


def residuals(held: Sequence[HeldReading], shown: Shown) -> str:
    """By how much each held-out reading is thicker or thinner than predicted, along the thong.

    The broad line is the median of a tenth of the readings at a time, where there are enough.
    """
    unit = shown.lengths
    per = float(MM_PER[unit])
    placed = sorted(
        ((one.at_mm / per, _percent(one), _inside(one)) for one in held if one.at_mm is not None),
        key=lambda point: point[0],
    )
    height = 260.0
    _, far = spread_of([x for x, _, _ in placed])
    across = Axis(min(0.0, placed[0][0]), far, LEFT, WIDTH - RIGHT)
    most = max(5.0, min(40.0, max(abs(y) for _, y, _ in placed) * 1.05))
    up = Axis(-most, most, height - BOTTOM, TOP)
    marks = [dot(across.at(x), up.at(max(-most, min(most, y))), inside) for x, y, inside in placed]
    middle = [(across.at(x), up.at(y)) for x, y in _running_median([(x, y) for x, y, _ in placed])]
    return chart(
        f"Residuals of {len(placed)} held-out readings along the thong",
        height,
        *grid(across, up, f"station ({unit})", "thicker than predicted (%)"),
        rule(LEFT, up.at(0), WIDTH - RIGHT, up.at(0), "target"),
        *marks,
        *([path(middle, class_="middle", fill="none", stroke_width=2.4)] if middle else []),
    )


def coverage_by_depth(covered: Iterable[Coverage]) -> str:
    """Share of readings inside the 50 % and the 90 % interval by number of plaited layers, with the spread
    that so many independent readings would have by chance."""
    rows = [one for one in covered if one.split == "depth"]
    height = TOP + 26 * 2 * len(rows) + BOTTOM
    across = Axis(0.0, 100.0, 92.0, WIDTH - RIGHT - 6)
    marks: list[str] = []
    for k, one in enumerate(rows):
        y = TOP + 52 * k + 14
        layers = f"{one.level} layer{'' if one.level == '1' else 's'}"
        marks.append(words_at(4, y + 2, layers, "label"))
        marks.append(words_at(4, y + 16, f"{one.readings} readings", "small"))
        for share, wanted, there in ((one.coverage_50, 50, y), (one.coverage_90, 90, y + 18)):
            chance = 164.5 * sqrt(wanted * (100 - wanted) / 1e4 / one.readings)
            low, high = max(0.0, wanted - chance), min(100.0, wanted + chance)
            marks.append(
                rect(across.at(low), there - 6, across.at(high) - across.at(low), 12, class_="chance")
            )
            x = across.at(wanted)
            marks.append(rule(x, there - 8, x, there + 8, "target"))
            marks.append(dot(across.at(100 * share), there, low <= 100 * share <= high, 4.5))
    base = height - BOTTOM + 6
    return chart(
        "Share of readings inside their intervals by number of plaited layers",
        height,
        *bottom_axis(across, base, "inside the 50 % (upper) and 90 % interval (lower), %"),
        *marks,
    )


def widths(cords: Sequence[CordInFit]) -> str:
    """Half of the 90 % interval, in per cent of the diameter, of a typical plait of every cord."""
    height = TOP + 22.0 * len(cords) + BOTTOM
    name_width = 128.0
    most = max(100 * cord.half_width for cord in cords)
    across = Axis(0.0, most * 1.18, name_width, WIDTH - RIGHT)
    marks: list[str] = []
    for k, cord in enumerate(cords):
        y = TOP + 22 * k + 11
        name = fitted(cord.name, name_width - 8, LETTER)
        share = 100 * cord.half_width
        marks.append(words_at(name_width - 6, y + 4, name, "label", text_anchor="end"))
        kind = "bar" if cord.readings else "bar new"
        marks.append(rect(name_width, y - 7, across.at(share) - name_width, 14, class_=kind))
        marks.append(words_at(across.at(share) + 4, y + 4, f"{share:.1f}", "label"))
    return chart(
        "Half width of the 90 % interval by cord",
        height,
        *bottom_axis(across, height - BOTTOM + 6, "± % of the diameter"),
        *marks,
    )


def _inside(one: HeldReading) -> bool:
    return one.low_90_mm <= one.measured_mm <= one.high_90_mm


def _percent(one: HeldReading) -> float:
    return 100 * (one.measured_mm / one.predicted_mm - 1)


def _running_median(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Medians of ten parts of the points along x; none for fewer than 40."""
    if len(points) < 40:
        return []
    bounds = [round(k * len(points) / 10) for k in range(11)]
    parts = [points[a:b] for a, b in pairwise(bounds)]
    return [(_median([x for x, _ in part]), _median([y for _, y in part])) for part in parts]


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2
