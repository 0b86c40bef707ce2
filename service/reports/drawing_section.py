"""The whip itself: layers in section above the centre line, the finished diameter below it."""

from collections.abc import Iterator
from typing import Final

from plaitlog.service.reports import svg
from plaitlog.service.reports.drawing_scale import LEFT, RIGHT, Scale, diameter_ticks
from plaitlog.service.reports.drawn_whip import DrawnReading, Section, WhipDrawing, layer_bounds

# Light fills with hatching of their own, so that layers are told apart in black and white too.
FILLS: Final = {
    "foundation": "#6b6b6b",
    "core": "url(#plaitlog-core)",
    "filler": "url(#plaitlog-filler)",
    "belly": "url(#plaitlog-belly)",
    "second belly": "url(#plaitlog-second-belly)",
    "bolster": "#e6dcc8",
    "binding": "#333333",
    "overlay": "url(#plaitlog-overlay)",
}
DOT: Final = 0.95
RANGE: Final = "#8c1d18"
"""The ink of what is noted as a range, or not noted."""


def patterns() -> str:
    """The hatchings that the fills name."""
    stroke: dict[str, svg.Attribute] = {"stroke": svg.GREY, "stroke_width": 0.18}
    dot: dict[str, svg.Attribute] = {"r": 0.28, "fill": svg.GREY}
    return svg.element(
        "defs",
        _pattern("core", "#e3c9a8", 2.0, svg.element("circle", cx=1, cy=1, **dot)),
        _pattern("filler", "#f4e3d3", 1.2, svg.element("circle", cx=0.6, cy=0.6, **dot)),
        _pattern("belly", "#c9d9e8", 2.2, svg.line(0, 2.2, 2.2, 0, **stroke)),
        _pattern("second-belly", "#a9c0d6", 1.6, svg.line(0, 0, 1.6, 1.6, **stroke)),
        _pattern(
            "overlay", "#f2efe4", 2.6, svg.line(0, 2.6, 2.6, 0, **stroke), svg.line(0, 0, 2.6, 2.6, **stroke)
        ),
        _pattern("range", "none", 1.4, svg.line(0.7, 0, 0.7, 1.4, stroke=RANGE, stroke_width=0.2)),
    )


def _pattern(name: str, ground: str, size: float, *marks: str) -> str:
    return svg.element(
        "pattern", svg.rect(0, 0, size, size, fill=ground), *marks, id=f"plaitlog-{name}", width=size,
        height=size, patternUnits="userSpaceOnUse",
    )  # fmt: skip


def fill_of(drawing: WhipDrawing, role: str, place: int) -> str:
    """The key into FILLS of a layer; a belly that lies over another one is a second belly."""
    first = next((layer.place for layer in drawing.layers if layer.role == "belly"), place)
    return "second belly" if role == "belly" and place > first else role


def whip_figure(drawing: WhipDrawing, scale: Scale) -> str:
    """Section, outline, readings, axes and marks."""
    return svg.element(
        "g",
        *_axes(drawing, scale),
        *_handle(drawing, scale),
        *_bands(drawing, scale),
        *_outline(drawing, scale),
        *_not_known(drawing, scale),
        _centre_line(drawing, scale),
        *(_reading(reading, scale) for reading in drawing.readings),
    )


def _known_runs(sections: tuple[Section, ...]) -> Iterator[list[Section]]:
    """Sections that are known, in unbroken runs."""
    run: list[Section] = []
    for section in sections:
        if section.reason:
            if run:
                yield run
            run = []
        else:
            run.append(section)
    if run:
        yield run


def _bands(drawing: WhipDrawing, scale: Scale) -> Iterator[str]:
    """Every layer as one shape for each unbroken stretch on which it lies."""
    for run in _known_runs(drawing.sections):
        keys = dict.fromkeys((layer.place, layer.role) for section in run for layer in section.layers)
        yield from _band(scale, run, 0, "foundation", FILLS["foundation"])
        for place, role in sorted(keys, key=lambda key: (key[0], key[1] != "filler")):
            yield from _band(scale, run, place, role, FILLS[fill_of(drawing, role, place)])
        yield from _ranges(run, scale)


def _ranges(run: list[Section], scale: Scale) -> Iterator[str]:
    """Red hatching over every layer whose count is a range."""
    for section in run:
        for layer in section.layers:
            bounds = layer_bounds(section, layer.place, layer.role)
            if layer.count is None or layer.count.exact or bounds is None:
                continue
            left, right = scale.x(section.from_mm), scale.x(section.to_mm)
            bottom, top = map(scale.above, bounds)
            yield svg.rect(
                left, top, right - left, bottom - top, fill="url(#plaitlog-range)", stroke=RANGE,
                stroke_width=0.2, stroke_dasharray="1 0.8",
            )  # fmt: skip


def _band(scale: Scale, run: list[Section], place: int, role: str, fill: str) -> Iterator[str]:
    shapes: list[list[tuple[float, float, float, float]]] = [[]]
    for section in run:
        bounds = layer_bounds(section, place, role)
        if bounds is None:
            shapes.append([])
        else:
            shapes[-1].append((section.from_mm, section.to_mm, *bounds))
    for shape in filter(None, shapes):
        outside = [(scale.x(at), scale.above(outer)) for low, high, _, outer in shape for at in (low, high)]
        inside = [(scale.x(at), scale.above(inner)) for low, high, inner, _ in shape for at in (low, high)]
        yield svg.path(
            outside + inside[::-1], closed=True, fill=fill, stroke=svg.INK, stroke_width=0.15,
            stroke_linejoin="round", class_=f"band {role} {place}",
        )  # fmt: skip


def _outline(drawing: WhipDrawing, scale: Scale) -> Iterator[str]:
    """Below the centre line: the predicted diameter with its interval."""
    for run in _known_runs(drawing.sections):
        ends = [(scale.x(section.from_mm), scale.x(section.to_mm), section) for section in run]
        low = [(x, scale.below(one.low_90_mm)) for a, b, one in ends for x in (a, b)]
        high = [(x, scale.below(one.high_90_mm)) for a, b, one in ends for x in (a, b)]
        middle = [(x, scale.below(one.diameter_mm)) for a, b, one in ends for x in (a, b)]
        yield svg.path(
            [(middle[0][0], scale.axis_y), *middle, (middle[-1][0], scale.axis_y)], closed=True,
            fill="#f7f7f7", stroke="none",
        )  # fmt: skip
        yield svg.path(high + low[::-1], closed=True, fill="#cfcfcf", stroke="none", class_="interval")
        yield svg.path(middle, class_="predicted", fill="none", stroke=svg.INK, stroke_width=0.35)
        for x in (middle[0][0], middle[-1][0]):
            at = middle[0] if x == middle[0][0] else middle[-1]
            yield svg.line(x, scale.axis_y, x, at[1], stroke_width=0.2)


def _not_known(drawing: WhipDrawing, scale: Scale) -> Iterator[str]:
    """Stretches without a known stack stay empty, framed by dashes and marked as such."""
    thick = max(section.diameter_mm for section in drawing.sections)
    for section in drawing.sections:
        if not section.reason:
            continue
        left, right = scale.x(section.from_mm), scale.x(section.to_mm)
        top, height = scale.above(thick), scale.across * thick
        yield svg.rect(
            left, top, right - left, height, fill="none", stroke=svg.GREY, stroke_width=0.25,
            stroke_dasharray="2 1.5", class_="not-known",
        )  # fmt: skip
        words = "not known" if right - left > svg.width_of("not known", 3) + 2 else "?"
        yield svg.text(
            (left + right) / 2, scale.axis_y - 2, words, 3, text_anchor="middle", font_style="italic",
            fill=svg.GREY,
        )  # fmt: skip


def _handle(drawing: WhipDrawing, scale: Scale) -> Iterator[str]:
    """A handle that lies before the datum: its size over everything, and the foundation where it is noted."""
    if drawing.handle_to_mm is None:
        return
    right = scale.x(drawing.handle_to_mm)
    if drawing.start_mm >= 0:
        yield svg.line(
            right, scale.axis_y - scale.half, right, scale.axis_y + scale.half, stroke=svg.GREY,
            stroke_width=0.2, stroke_dasharray="3 1",
        )  # fmt: skip
        middle = (scale.x(0) + right) / 2
        yield svg.text(middle, scale.axis_y - scale.half, "handle", 2.6, text_anchor="middle", fill=svg.GREY)
        return
    left = scale.x(drawing.start_mm)
    size = drawing.handle_diameter_mm
    thick = size or max(section.diameter_mm for section in drawing.sections)
    yield svg.rect(
        left, scale.above(thick), right - left, scale.across * thick, fill="#fbfbfb", stroke=svg.GREY,
        stroke_width=0.25, stroke_dasharray="none" if size else "2 1.5",
    )  # fmt: skip
    if drawing.foundation_mm:
        top = scale.above(drawing.foundation_mm)
        end = min(right, scale.x(drawing.foundation_to_mm))
        if end > left:
            yield svg.rect(left, top, end - left, scale.axis_y - top, fill=FILLS["foundation"])
    over = f"Ø {drawing.shown.diameter(size)}" if size else "Ø not noted"
    for words, y in (("handle", scale.axis_y + 4), (over, scale.axis_y + 7.4)):
        shown = svg.fitted(words, right - left - 1, 2.4)
        yield svg.text((left + right) / 2, y, shown, 2.4, text_anchor="middle", fill=svg.GREY)


def _centre_line(drawing: WhipDrawing, scale: Scale) -> str:
    return svg.line(
        LEFT, scale.axis_y, scale.x(drawing.end_mm) + 3, scale.axis_y, stroke=svg.INK, stroke_width=0.18,
        stroke_dasharray="6 1 1 1", class_="axis",
    )  # fmt: skip


def _reading(reading: DrawnReading, scale: Scale) -> str:
    """A dot on the finished whip below the centre line, a diamond on an inner layer above it."""
    x, doubtful = scale.x(reading.at_mm), reading.doubtful
    ink: dict[str, svg.Attribute] = {
        "fill": "white" if doubtful else svg.INK,
        "stroke": svg.INK,
        "stroke_width": 0.3,
    }
    if reading.after_layer is None:
        y = scale.below(reading.diameter_mm)
        mark = svg.element("circle", cx=x, cy=y, r=DOT, class_="reading", **ink)
    else:
        y = scale.above(reading.diameter_mm)
        ink["fill"] = "white" if doubtful else "#ffd54a"
        d = 1.25
        mark = svg.path([(x, y - d), (x + d, y), (x, y + d), (x - d, y)], closed=True, class_="inner", **ink)
    if doubtful:
        mark += svg.text(x + 1.3, y + 1, "?", 2.6)
    return mark


def _axes(drawing: WhipDrawing, scale: Scale) -> Iterator[str]:
    """Diameters at the left, with fine lines across."""
    unit = drawing.shown.diameters
    for mm in diameter_ticks(drawing, scale):
        for y in {scale.above(mm), scale.below(mm)}:
            yield svg.line(LEFT, y, RIGHT, y, stroke="#e4e4e4", stroke_width=0.15)
            yield svg.line(LEFT - 1.2, y, LEFT, y, stroke=svg.GREY, stroke_width=0.2)
            yield svg.text(LEFT - 2, y + 0.9, _tick(mm, unit), 2.5, text_anchor="end", fill=svg.GREY)
    for words, y in (
        ("layers in section", scale.axis_y - scale.half / 2),
        ("finished", scale.axis_y + scale.half / 2),
    ):
        yield svg.text(12, y - 1.5, words, 2.8, font_weight="bold")
        yield svg.text(12, y + 2, f"Ø in {unit}", 2.6, fill=svg.GREY)


def _tick(mm: float, unit: str) -> str:
    return f"{mm / 25.4:.2f}" if unit == "in" else f"{mm:g}"
