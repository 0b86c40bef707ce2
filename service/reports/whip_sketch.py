"""A small drawing of a whip while it is typed: a strip a layer with its drops, below it the diameter.

It takes its colours from the page around it, like every chart of a page.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from plaitlog.service.reports.drawn_whip import DrawnLayer, Section
from plaitlog.service.reports.page_charts import RIGHT, WIDTH, Axis, chart, rule, words_at
from plaitlog.service.reports.shown import Shown
from plaitlog.service.reports.svg import element, path, rect, title

STRIP: Final = 26.0
THICK: Final = 12.0
NAME: Final = 12.0
DIAMETERS: Final = 88.0
APART: Final = 24.0
"""Least distance between two counts that are written out."""
LEFT: Final = 34.0


@dataclass(frozen=True, slots=True)
class Sketch:
    """What is drawn, mm from the datum.

    readings : station, diameter, and whether it is about what is expected, of the finished whip.
    """

    layers: tuple[DrawnLayer, ...]
    sections: tuple[Section, ...]
    readings: tuple[tuple[float, float, bool], ...]
    end_mm: float
    to_point: bool
    shown: Shown


def sketch_svg(sketch: Sketch) -> str:
    """The drawing as SVG, as wide as its place."""
    across = Axis(0.0, sketch.end_mm, LEFT, WIDTH - RIGHT)
    content: list[str] = []
    y = 4.0
    for layer in reversed(sketch.layers):
        content.extend(_strip(layer, across, y))
        y += NAME + STRIP
    diameters = _diameters(sketch)
    if diameters:
        up = Axis(0.0, max(diameters) * 1.08, y + DIAMETERS, y + 16)
        content.extend(_outline(sketch, across, up))
        y += DIAMETERS
    content.extend(_ruler(sketch, across, y + 4))
    return chart("The layers, outermost on top, and the expected diameter", y + 26, *content)


def _strip(layer: DrawnLayer, across: Axis, y: float) -> Iterator[str]:
    """One layer: as thick as its share of its own greatest count, its counts where they change."""
    name = f"{layer.place} {layer.role}"
    yield words_at(LEFT, y + 9, name, "small")
    base = y + NAME + THICK
    most = max((_number(step.count) for step in layer.steps), default=0.0)
    if not most:
        yield rule(across.start, base, across.end, base, "grid")
        return
    points: list[tuple[float, float]] = []
    for k, step in enumerate(layer.steps):
        low, high = across.at(min(step.low_mm, across.high)), across.at(min(step.high_mm, across.high))
        top = base - THICK * _number(step.count) / most
        points += [(low, points[-1][1] if k else base), (high, top)]
    runs_on = layer.rest == "point"
    end = across.end if runs_on else points[-1][0]
    points += [(end, points[-1][1]), (end, base)]
    counts = ", ".join(step.count for step in layer.steps)
    yield element("g", title(f"{name}: {counts}"), path(points, closed=True, class_=f"band {layer.role}"))
    last = -APART
    for step in layer.steps:
        x = across.at(min(step.mid_mm, across.high))
        if x - last >= APART and step.count != "0" and x < across.end - 12:
            yield words_at(x + (2 if x > across.start else 0), base + 11, step.count, "small")
            last = x


def _number(count: str) -> float:
    """About how many strands a count stands for; 1 for a layer that is given by its size."""
    found = 0.0
    for part in count.split("+"):
        numbers = [text for text in part.split("-") if text.replace(".", "", 1).isdigit()]
        if not numbers:
            return 1.0
        found += sum(map(float, numbers)) / len(numbers)
    return found


def _diameters(sketch: Sketch) -> list[float]:
    expected = [section.high_90_mm for section in sketch.sections]
    return [*expected, *(size for _, size, _ in sketch.readings)]


def _outline(sketch: Sketch, across: Axis, up: Axis) -> Iterator[str]:
    """The expected diameter with its 90 % interval, and what was measured on the finished whip."""
    for tick in up.ticks(3):
        yield rule(across.start, up.at(tick), across.end, up.at(tick), "grid")
        number = sketch.shown.diameter_number(tick) if sketch.shown.diameters == "in" else f"{tick:g}"
        yield words_at(LEFT - 4, up.at(tick) + 4, number, "small", text_anchor="end")
    yield words_at(LEFT - 4, up.end - 2, f"Ø {sketch.shown.diameters}", "small", text_anchor="end")
    for section in sketch.sections:
        left, right = across.at(section.from_mm), across.at(section.to_mm)
        top, bottom = up.at(section.high_90_mm), up.at(section.low_90_mm)
        yield rect(left, top, right - left, bottom - top, class_="chance")
    for section in sketch.sections:
        y = up.at(section.diameter_mm)
        yield rule(across.at(section.from_mm), y, across.at(section.to_mm), y, "target")
    for at_mm, size, expected in sketch.readings:
        words = f"{sketch.shown.diameter(size)} at {sketch.shown.length(at_mm)}"
        kind = "in" if expected else "out"
        yield element("circle", title(words), cx=across.at(at_mm), cy=up.at(size), r=3, class_=kind)


def _ruler(sketch: Sketch, across: Axis, y: float) -> Iterator[str]:
    yield rule(across.start, y, across.end, y, "axis")
    yield words_at(across.start, y + 14, "datum", "small")
    end = sketch.shown.length(sketch.end_mm)
    words = f"point {end}" if sketch.to_point else f"last place noted {end}"
    yield words_at(across.end, y + 14, words, "small", text_anchor="end")
