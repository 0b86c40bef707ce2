"""Technical drawing of one whip: length true to scale, thickness exaggerated, both scales stated.

Above the centre line the layers in section, inside out, with inner readings on them; below it the predicted
finished diameter with its 90 % interval and the finished readings; above all a strip a layer with its drops.
"""

from collections.abc import Iterator
from typing import Final

from plaitlog.service.reports import svg
from plaitlog.service.reports.drawing_scale import (
    RIGHT,
    SHEET_MM,
    Scale,
    length_ticks,
    scale_of,
)
from plaitlog.service.reports.drawing_section import DOT, FILLS, RANGE, fill_of, patterns, whip_figure
from plaitlog.service.reports.drawing_strips import strips
from plaitlog.service.reports.drawn_whip import WhipDrawing as WhipDrawing
from plaitlog.service.reports.drawn_whip import to_table as to_table

MARGIN: Final = 12.0


def to_svg(drawing: WhipDrawing) -> str:
    """The drawing on a sheet 297 mm wide, one unit of the SVG a millimetre of paper."""
    scale = scale_of(drawing)
    ruler = scale.axis_y + scale.half + 3
    legend, bottom = _legend(drawing, ruler + 13)
    remarks, bottom = _remarks(drawing, bottom + 2)
    return svg.document(
        SHEET_MM,
        bottom + 6,
        f"Drawing of whip {drawing.label}",
        patterns(),
        *_head(drawing, scale),
        strips(drawing, scale),
        *_marks(drawing, scale, ruler),
        whip_figure(drawing, scale),
        *_ruler(drawing, scale, ruler),
        legend,
        remarks,
    )


def _head(drawing: WhipDrawing, scale: Scale) -> Iterator[str]:
    room = SHEET_MM - 2 * MARGIN
    label = svg.fitted(drawing.label, room * 0.6, 5.5)
    yield svg.text(MARGIN, 13, label, 5.5, font_weight="bold")
    beside = MARGIN + svg.width_of(label, 5.5) * 1.08 + 4
    yield svg.text(beside, 13, svg.fitted(drawing.about, SHEET_MM - MARGIN - beside, 3.6), 3.6)
    yield svg.text(MARGIN, 18.5, svg.fitted(drawing.lengths, room, 2.8), 2.8)
    rests = drawing.rests_on[:1].upper() + drawing.rests_on[1:]
    said = f"{scale.stated} {rests}. {drawing.caution}"
    yield svg.text(MARGIN, 23, svg.fitted(said, room, 2.8), 2.8)
    yield svg.line(MARGIN, 26.5, SHEET_MM - MARGIN, 26.5, stroke_width=0.3)


def _marks(drawing: WhipDrawing, scale: Scale, ruler: float) -> Iterator[str]:
    """Upright lines at the datum and at the point, down to the ruler."""
    top = scale.axis_y - scale.half
    for at_mm in {0.0, drawing.end_mm}:
        x = scale.x(at_mm)
        yield svg.line(x, top, x, ruler + 2, stroke=svg.GREY, stroke_width=0.18, stroke_dasharray="3 1 0.6 1")


def _ruler(drawing: WhipDrawing, scale: Scale, y: float) -> Iterator[str]:
    """Stations in the viewer's unit, with the datum and the point named below."""
    yield svg.line(scale.x(drawing.start_mm), y, scale.x(drawing.end_mm), y, stroke_width=0.3)
    last = scale.x(drawing.end_mm)
    for at_mm in length_ticks(drawing, scale):
        x = scale.x(at_mm)
        yield svg.line(x, y, x, y + 1.5, stroke_width=0.25)
        yield svg.text(x, y + 4.4, drawing.shown.length(at_mm), 2.5, text_anchor="middle", class_="station")
    datum = f"datum: {drawing.datum}"
    yield svg.text(scale.x(0), y + 8, datum, 2.6, text_anchor="middle", font_weight="bold")
    end = "last place noted" if drawing.point_mm is None else f"point, {drawing.shown.length(drawing.end_mm)}"
    yield svg.line(last, y, last, y + 1.5, stroke_width=0.25)
    yield svg.text(last, y + 8, end, 2.6, text_anchor="end", font_weight="bold")
    if drawing.start_mm < 0:
        x = scale.x(drawing.start_mm)
        yield svg.line(x, y, x, y + 1.5, stroke_width=0.25)
        yield svg.text(x, y + 4.4, "butt", 2.5, text_anchor="middle")


def _legend(drawing: WhipDrawing, y: float) -> tuple[str, float]:
    """What the shapes mean, as many to a row as go; and where the legend ends."""
    found, x = [], MARGIN
    for mark, words in _legend_entries(drawing):
        width = 7 + svg.width_of(words, 2.6) + 5
        if x + width > SHEET_MM - MARGIN and x > MARGIN:
            x, y = MARGIN, y + 5
        found.append(svg.element("g", mark, transform=f"translate({svg.number(x)} {svg.number(y)})"))
        found.append(svg.text(x + 7, y + 0.9, words, 2.6))
        x += width
    return "".join(found), y + 3


def _legend_entries(drawing: WhipDrawing) -> Iterator[tuple[str, str]]:
    edge: dict[str, svg.Attribute] = {"stroke": svg.INK, "stroke_width": 0.15}
    there = {
        fill_of(drawing, layer.role, layer.place) for section in drawing.sections for layer in section.layers
    }
    if drawing.foundation_mm:
        there.add("foundation")
    for role, fill in FILLS.items():
        if role in there:
            words = "filler: dropped strands inside" if role == "filler" else role
            yield svg.rect(0, -1.6, 5, 3.2, fill=fill, **edge), words
    yield (
        svg.rect(0, -1.6, 5, 3.2, fill="#cfcfcf") + svg.line(0, 0, 5, 0, stroke_width=0.35),
        "predicted finished diameter, 90 % interval of the next reading",
    )
    if any(reading.after_layer is None for reading in drawing.readings):
        yield svg.element("circle", cx=2.5, cy=0, r=DOT, fill=svg.INK), "reading, finished"
    if any(reading.after_layer is not None for reading in drawing.readings):
        yield (
            svg.path(
                [(2.5, -1.25), (3.75, 0), (2.5, 1.25), (1.25, 0)],
                closed=True,
                fill="#ffd54a",
                stroke=svg.INK,
                stroke_width=0.3,
            ),
            "reading of an inner layer, before it was covered",
        )
    if any(reading.doubtful for reading in drawing.readings):
        hollow = svg.element("circle", cx=2.5, cy=0, r=DOT, fill="white", stroke=svg.INK, stroke_width=0.3)
        yield hollow, "? doubtful"
    if any(section.uncertain for section in drawing.sections):
        yield (
            svg.rect(0, -1.6, 5, 3.2, fill="url(#plaitlog-range)", stroke=RANGE, stroke_width=0.2),
            "strand count between two figures",
        )


def _remarks(drawing: WhipDrawing, y: float) -> tuple[str, float]:
    """What is not known, in words; and where they end."""
    found = []
    said = [*_gaps(drawing), *drawing.remarks]
    for remark in said:
        for number, words in enumerate(svg.wrapped(remark, RIGHT - MARGIN - 4, 2.6)):
            y += 4
            if number == 0:
                found.append(svg.text(MARGIN, y, "–", 2.6))
            found.append(svg.text(MARGIN + 3, y, words, 2.6))
    return "".join(found), y


def _gaps(drawing: WhipDrawing) -> Iterator[str]:
    for section in drawing.sections:
        if section.reason:
            begin, end = (drawing.shown.length(at) for at in (section.from_mm, section.to_mm))
            yield f"Not known from {begin} to {end}: {section.reason}."
