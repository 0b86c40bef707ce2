"""The drawing of a whip for a page: in the page's own colours, by class, wide enough to read on any screen.

Above the centre line the layers in section, inside out; below it the finished whip, predicted and measured;
above all a strip a layer with its drops. One unit is a pixel at ``WIDTH``; thickness is exaggerated.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil, floor
from typing import Final

from plaitlog.models.units import MM_PER
from plaitlog.service.reports.drawing_scale import TICKS
from plaitlog.service.reports.drawing_section import fill_of
from plaitlog.service.reports.drawn_whip import DrawnReading, Section, WhipDrawing, layer_bounds
from plaitlog.service.reports.page_charts import rule
from plaitlog.service.reports.page_fills import diamond, dot, fill, filled, patterns
from plaitlog.service.reports.page_strips import STRIP, strips
from plaitlog.service.reports.svg import Attribute, element, path, rect, text, title, width_of

WIDTH: Final = 860.0
LEFT, RIGHT, TOP = 44.0, 846.0, 8.0
HALF: Final = 80.0
"""Most room above, and below, the centre line."""
ANY_MM: Final = 10.0
"""Shown where no diameter is known at all."""
BELOW: Final = 46.0
"""For the ruler under the figure."""
LETTER: Final = 12.0
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PageScale:
    """Where a station and a diameter lie in the picture."""

    start_mm: float
    end_mm: float
    across: float
    axis_y: float
    half: float

    def x(self, at_mm: float) -> float:
        return LEFT + (at_mm - self.start_mm) / (self.end_mm - self.start_mm) * (RIGHT - LEFT)

    def above(self, diameter_mm: float) -> float:
        return self.axis_y - self.across * diameter_mm / 2

    def below(self, diameter_mm: float) -> float:
        return self.axis_y + self.across * diameter_mm / 2


def page_drawing(drawing: WhipDrawing, wanted: Sequence[Place] = ()) -> str:
    """The drawing as SVG. wanted : station and wanted diameter, mm, where a plan is kept with the whip.

    ``data-`` attributes of the picture say which stations lie where, for the script that shows them.
    """
    scale = _scale(drawing, wanted)
    ruler = scale.axis_y + scale.half + 4
    return element(
        "svg",
        title(f"{drawing.label}: layers in section above the centre line, finished diameter below it"),
        patterns(),
        *strips(drawing, scale.x, TOP),
        *_diameters(drawing, scale),
        *_bands(drawing, scale),
        *_handle(drawing, scale),
        *_finished(drawing, scale),
        *_not_known(drawing, scale),
        rule(LEFT, scale.axis_y, RIGHT, scale.axis_y, "centre"),
        *_wanted(wanted, scale),
        *(_reading(reading, drawing, scale) for reading in drawing.readings),
        *_ruler(drawing, scale, ruler),
        element("line", x1=LEFT, x2=LEFT, y1=TOP, y2=ruler, class_="cursor"),
        viewBox=f"0 0 {WIDTH:g} {ruler + BELOW:g}",
        role="img",
        class_="whip-drawing",
        aria_label=f"Drawing of whip {drawing.label}; the table of stations below says the same",
        **_said_to_script(drawing),
    )


def _said_to_script(drawing: WhipDrawing) -> dict[str, Attribute]:
    return {
        "data_start": f"{drawing.start_mm:g}",
        "data_end": f"{drawing.end_mm:g}",
        "data_left": f"{LEFT / WIDTH:.5f}",
        "data_right": f"{RIGHT / WIDTH:.5f}",
        "data_x0": f"{LEFT:g}",
        "data_x1": f"{RIGHT:g}",
    }


def _scale(drawing: WhipDrawing, wanted: Sequence[Place]) -> PageScale:
    thickest = max(
        [
            drawing.handle_diameter_mm or 0.0,
            drawing.foundation_mm,
            *(section.high_90_mm for section in drawing.sections),
            *(reading.diameter_mm for reading in drawing.readings),
            *(size for _, size in wanted),
        ]
    )
    across = 2 * HALF / (thickest or ANY_MM)
    half = HALF + 6
    return PageScale(
        drawing.start_mm, drawing.end_mm, across, TOP + STRIP * len(drawing.layers) + half + 6, half
    )


def _runs(drawing: WhipDrawing) -> Iterator[list[Section]]:
    """Known sections in unbroken runs."""
    for known, run in groupby(drawing.sections, key=lambda section: not section.reason):
        if known:
            yield list(run)


def _bands(drawing: WhipDrawing, scale: PageScale) -> Iterator[str]:
    """Each layer as one shape for each unbroken stretch on which it lies."""
    for run in _runs(drawing):
        keys = dict.fromkeys((layer.place, layer.role) for section in run for layer in section.layers)
        yield from _band(scale, run, 0, "foundation", "foundation")
        for place, role in sorted(keys, key=lambda key: (key[0], key[1] != "filler")):
            yield from _band(scale, run, place, role, fill_of(drawing, role, place))
        for section in run:
            for layer in section.layers:
                bounds = layer_bounds(section, layer.place, layer.role)
                if layer.count is not None and not layer.count.exact and bounds:
                    inner, outer = map(scale.above, bounds)
                    left, right = scale.x(section.from_mm), scale.x(section.to_mm)
                    yield filled(left, outer, right - left, inner - outer, "range")


def _band(scale: PageScale, run: list[Section], place: int, role: str, kind: str) -> Iterator[str]:
    bounds = [(section, layer_bounds(section, place, role)) for section in run]
    for lies, stretch in groupby(bounds, key=lambda one: one[1] is not None):
        if not lies:
            continue
        shape = [(one.from_mm, one.to_mm, *found) for one, found in stretch if found is not None]
        outside = [(scale.x(at), scale.above(outer)) for low, high, _, outer in shape for at in (low, high)]
        inside = [(scale.x(at), scale.above(inner)) for low, high, inner, _ in shape for at in (low, high)]
        yield path(outside + inside[::-1], closed=True, **fill(kind))


def _finished(drawing: WhipDrawing, scale: PageScale) -> Iterator[str]:
    """Below the centre line: the predicted diameter with its interval."""
    for run in _runs(drawing):
        ends = [(scale.x(at), section) for section in run for at in (section.from_mm, section.to_mm)]
        low = [(x, scale.below(one.low_90_mm)) for x, one in ends]
        high = [(x, scale.below(one.high_90_mm)) for x, one in ends]
        middle = [(x, scale.below(one.diameter_mm)) for x, one in ends]
        body = [(middle[0][0], scale.axis_y), *middle, (middle[-1][0], scale.axis_y)]
        yield path(body, closed=True, class_="body")
        yield path(high + low[::-1], closed=True, class_="interval")
        yield path(middle, class_="predicted")


def _wanted(wanted: Sequence[Place], scale: PageScale) -> Iterator[str]:
    places = [(scale.x(at), scale.below(size)) for at, size in wanted if at <= scale.end_mm]
    if len(places) > 1:
        yield path(places, class_="wanted")


def _not_known(drawing: WhipDrawing, scale: PageScale) -> Iterator[str]:
    """Stretches without a known stack stay empty, framed by dashes and marked as such."""
    sizes = [section.diameter_mm for section in drawing.sections if not section.reason]
    thick = max([*sizes, *(x.diameter_mm for x in drawing.readings)], default=2 * HALF / scale.across)
    for section in drawing.sections:
        if section.reason:
            left, right = scale.x(section.from_mm), scale.x(section.to_mm)
            top, height = scale.above(thick), scale.across * thick / 2
            yield rect(left, top, right - left, height, class_="unknown")
            words = "layers not known"
            words = words if right - left > width_of(words, LETTER) + 6 else "?"
            yield text(
                (left + right) / 2, scale.axis_y - 8, words, LETTER, text_anchor="middle", class_="small"
            )


def _handle(drawing: WhipDrawing, scale: PageScale) -> Iterator[str]:
    """A handle that lies before the datum as a frame, one after it as a mark where it ends."""
    if drawing.handle_to_mm is None:
        return
    right = scale.x(drawing.handle_to_mm)
    top, bottom = scale.axis_y - scale.half, scale.axis_y + scale.half
    if drawing.start_mm >= 0:
        yield rule(right, top, right, bottom, "handle-end")
        yield text((LEFT + right) / 2, top + 10, "handle", 11.0, text_anchor="middle", class_="small")
        return
    left, size = scale.x(drawing.start_mm), drawing.handle_diameter_mm
    thick = size or max(section.diameter_mm for section in drawing.sections) or 2 * HALF / scale.across
    kind = "handle" if size else "unknown"
    yield rect(left, scale.above(thick), right - left, scale.across * thick, class_=kind)
    end = min(right, scale.x(drawing.foundation_to_mm))
    if drawing.foundation_mm and end > left:
        top = scale.above(drawing.foundation_mm)
        yield rect(left, top, end - left, scale.axis_y - top, class_="lay foundation")
    yield text((left + right) / 2, scale.axis_y + 16, "handle", 11.0, text_anchor="middle", class_="small")


def _reading(reading: DrawnReading, drawing: WhipDrawing, scale: PageScale) -> str:
    """A dot on the finished whip below the centre line, a diamond on an inner layer above it."""
    kind = "measured doubtful" if reading.doubtful else "measured"
    shown = drawing.shown
    words = f"{shown.diameter(reading.diameter_mm)}{'?' if reading.doubtful else ''} measured at "
    name = title(f"{words}{shown.length(reading.at_mm)}")
    if reading.after_layer is None:
        return dot(scale.x(reading.at_mm), scale.below(reading.diameter_mm), kind, name)
    return diamond(scale.x(reading.at_mm), scale.above(reading.diameter_mm), f"{kind} inner", name)


def _diameters(drawing: WhipDrawing, scale: PageScale) -> Iterator[str]:
    """Diameters at the left, with fine lines across."""
    shown = drawing.shown
    unit = float(MM_PER[shown.diameters])
    steps = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0) if shown.diameters == "in" else (1, 2, 5, 10, 20, 50)
    step = next((x for x in steps if x * unit * scale.across / 2 > 20), steps[-1]) * unit
    for k in range(floor(2 * HALF / scale.across / step + 1e-9) + 1):
        name = f"{k * step / unit:g}"
        for y in {scale.above(k * step), scale.below(k * step)}:
            yield rule(LEFT, y, RIGHT, y, "grid")
            yield text(LEFT - 6, y + 4, shown.number(name), 11.0, text_anchor="end", class_="small")
    yield text(
        0, 0, f"diameter, {shown.diameters}", 11.0, text_anchor="middle", class_="small",
        transform=f"translate(11 {scale.axis_y:g}) rotate(-90)",
    )  # fmt: skip


def _ruler(drawing: WhipDrawing, scale: PageScale, y: float) -> Iterator[str]:
    """Stations in the viewer's unit, with the datum and the point named below."""
    shown = drawing.shown
    yield rule(LEFT, y, RIGHT, y, "axis")
    unit = float(MM_PER[shown.lengths])
    steps = TICKS[shown.lengths]
    per_mm = (RIGHT - LEFT) / (scale.end_mm - scale.start_mm)
    step = next((x for x in steps if x * unit * per_mm >= 68), steps[-1]) * unit
    for k in range(ceil(max(scale.start_mm, 0.0) / step), floor(scale.end_mm / step + 1e-9) + 1):
        x = scale.x(k * step)
        yield rule(x, y, x, y + 5, "axis")
        yield text(x, y + 18, shown.length(k * step), 11.0, text_anchor="middle", class_="small")
    at_datum = "start" if scale.x(0.0) < LEFT + 40 else "middle"
    yield text(scale.x(0.0), y + 36, f"datum: {drawing.datum}", LETTER, text_anchor=at_datum)
    end = "last place noted" if drawing.point_mm is None else f"point, {shown.length(scale.end_mm)}"
    yield text(RIGHT, y + 36, end, LETTER, text_anchor="end")
