"""Above the whip: one strip a layer, in the order in which the layers lie, with its drops and counts."""

from collections.abc import Iterator

from plaitlog.service.reports import svg
from plaitlog.service.reports.drawing_scale import LEFT, STRIP, TOP, Scale
from plaitlog.service.reports.drawing_section import FILLS, RANGE, fill_of
from plaitlog.service.reports.drawn_whip import DrawnLayer, DrawnStep, WhipDrawing

SIZE = 2.5


def strips(drawing: WhipDrawing, scale: Scale) -> str:
    """All strips, the outermost layer at the top, as they lie above the centre line."""
    found = []
    for row, layer in enumerate(reversed(drawing.layers)):
        y = TOP + STRIP * row + STRIP / 2
        found.append(svg.element("g", *_strip(drawing, layer, y, scale)))
    return "".join(found)


def _strip(drawing: WhipDrawing, layer: DrawnLayer, y: float, scale: Scale) -> Iterator[str]:
    room = LEFT - 12 - 7
    yield svg.rect(
        12, y - 1.6, 4.4, 3.2, fill=FILLS[fill_of(drawing, layer.role, layer.place)], stroke=svg.INK,
        stroke_width=0.15,
    )  # fmt: skip
    yield svg.text(18, y - 0.3, f"{layer.place} {layer.role}", SIZE, font_weight="bold")
    yield svg.text(18, y + 2.7, svg.fitted(layer.made_of, room, 2.3), 2.3, fill=svg.GREY)
    if not layer.steps:
        yield svg.text(LEFT, y + 0.9, "its strands are not noted", SIZE, font_style="italic", fill=RANGE)
        return
    yield from _line(drawing, layer, y, scale)
    free = [0.0, 0.0]
    for step in layer.steps:
        yield from _tick(step, y, scale)
        if step.count == "0":
            continue
        x = scale.x(step.mid_mm) + 0.7
        width = svg.width_of(step.count, SIZE)
        row = next((row for row, taken in enumerate(free) if x >= taken), None)
        if row is not None:
            yield svg.text(x, y - 1 if row == 0 else y + 3, step.count, SIZE)
            free[row] = x + width + 0.8


def _line(drawing: WhipDrawing, layer: DrawnLayer, y: float, scale: Scale) -> Iterator[str]:
    """From its first place to its last one, or on to the point; dashed where that is not noted."""
    start, last = layer.steps[0].low_mm, layer.steps[-1]
    end = last.high_mm if layer.rest != "point" else drawing.end_mm
    yield svg.line(scale.x(start), y, scale.x(end), y, stroke_width=0.3)
    if layer.rest == "not noted" and end < drawing.end_mm:
        yield svg.line(
            scale.x(end), y, scale.x(drawing.end_mm), y, stroke=RANGE, stroke_width=0.25,
            stroke_dasharray="0.8 1.2",
        )  # fmt: skip
        words = "goes on, not noted how"
        x = scale.x(drawing.end_mm)
        if x - scale.x(end) > svg.width_of(words, SIZE) + 8:
            yield svg.text(x, y - 1, words, SIZE, text_anchor="end", font_style="italic", fill=RANGE)


def _tick(step: DrawnStep, y: float, scale: Scale) -> Iterator[str]:
    """A stroke where the count changes; a bar, dashed at the sides, where the place is a range."""
    if step.low_mm < step.high_mm:
        left, right = scale.x(step.low_mm), scale.x(step.high_mm)
        yield svg.rect(
            left, y - 0.55, max(right - left, 0.4), 1.1, fill="#e9b3af", stroke=RANGE, stroke_width=0.15
        )
    x = scale.x(step.mid_mm)
    known = step.kind == "at"
    yield svg.line(
        x, y - 1.5, x, y + 1.5, stroke=svg.INK if known else RANGE, stroke_width=0.35,
        stroke_dasharray="none" if known else "0.6 0.5",
    )  # fmt: skip
