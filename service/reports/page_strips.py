"""Above the drawing on a page: one strip a layer, the outermost at the top, with its drops and counts."""

from collections.abc import Callable, Iterator
from typing import Final

from plaitlog.service.reports.drawn_whip import DrawnLayer, DrawnStep, WhipDrawing
from plaitlog.service.reports.page_charts import rule
from plaitlog.service.reports.svg import element, fitted, rect, text, width_of

STRIP: Final = 33.0
LETTER: Final = 11.0
Across = Callable[[float], float]
"""Station in mm -> place in the picture."""


def strips(drawing: WhipDrawing, x: Across, top: float) -> Iterator[str]:
    """All strips, as they lie above the centre line."""
    for row, layer in enumerate(reversed(drawing.layers)):
        yield element("g", *_strip(drawing, layer, top + STRIP * row, x))


def _strip(drawing: WhipDrawing, layer: DrawnLayer, top: float, x: Across) -> Iterator[str]:
    left, right = x(drawing.start_mm), x(drawing.end_mm)
    made_of = f", {layer.made_of}" if layer.made_of else ""
    name = f"{layer.place} {layer.role}{made_of}"
    yield text(left, top + 9, fitted(name, right - left, LETTER), LETTER, class_="strip-name")
    y = top + 26
    if not layer.steps:
        yield text(left, y, "its strands are not noted", LETTER, class_="small")
        return
    start, last = layer.steps[0].low_mm, layer.steps[-1]
    end = drawing.end_mm if layer.rest == "point" else last.high_mm
    yield rule(x(start), y, x(end), y, "strip")
    if layer.rest == "not noted" and end < drawing.end_mm:
        yield rule(x(end), y, right, y, "strip open")
    yield from _counts(layer, y, x)


def _counts(layer: DrawnLayer, y: float, x: Across) -> Iterator[str]:
    """A stroke where the count changes, the count beside it where there is room."""
    free = float("-inf")
    for step in layer.steps:
        yield from _tick(step, y, x)
        place, width = x(step.mid_mm) + 2, width_of(step.count, LETTER)
        if step.count != "0" and place >= free:
            yield text(place, y - 4, step.count, LETTER, class_="count")
            free = place + width + 4


def _tick(step: DrawnStep, y: float, x: Across) -> Iterator[str]:
    """A bar where the place is a range, a dashed stroke where it is only about."""
    if step.low_mm < step.high_mm:
        left, right = x(step.low_mm), x(step.high_mm)
        yield rect(left, y - 3, max(right - left, 1.5), 6, class_="vague-place")
    middle = x(step.mid_mm)
    yield rule(middle, y - 5, middle, y + 5, "drop" if step.kind == "at" else "drop vague")
