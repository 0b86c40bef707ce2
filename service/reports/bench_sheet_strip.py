"""The narrow strip beside a table: the whip lengthwise, each of its drops level with the row that says it.

Across it is true to size where that has room; lengthwise it goes from row to row, so that every row is level.
"""

from collections.abc import Iterator
from typing import Final

from plaitlog.service.reports import svg
from plaitlog.service.reports.bench_sheet_content import LayerBlock, StripPart

WIDTH: Final = 27.0
"""Room on paper across the strip, mm."""
EDGE: Final = 0.35
INSIDE: Final = 0.2
MARK: Final = 1.1
"""Half the width of the mark of a place to measure, mm."""


def scale_across(blocks: tuple[LayerBlock, ...]) -> float:
    """Paper mm for one mm of diameter: 1, or a half, a third where the whip is broader than that."""
    widest = max(
        (
            size
            for block in blocks
            for row in block.rows
            for side in (row.strip.before, row.strip.after)
            for size in side or ()
        ),
        default=0.0,
    )
    parts = 1
    while widest / parts > WIDTH - 4 * MARK:
        parts += 1
    return 1 / parts


def strip_part(part: StripPart, middle_x: float, y: float, height: float, scale: float) -> str:
    """The stretch of the whip beside a row whose upper edge is at ``y``."""
    half = y + height / 2
    found = [
        *_sides(part.before, middle_x, y, half, scale, EDGE),
        *_sides(part.after, middle_x, half, y + height, scale, EDGE),
        *_sides(part.inside_before, middle_x, y, half, scale, INSIDE, "1 0.8"),
        *_sides(part.inside_after, middle_x, half, y + height, scale, INSIDE, "1 0.8"),
    ]
    widest = max((side[0] for side in (part.before and part.before[::-1], part.after) if side), default=0.0)
    if widest:
        reach = widest * scale / 2
        found.append(svg.line(middle_x - reach, half, middle_x + reach, half, stroke_width=EDGE))
    for mark in part.marks:
        found.append(_mark(middle_x + WIDTH / 2 - 2 * MARK, y + mark * height))
    return "".join(found)


def mark_in_words(x: float, y: float) -> str:
    """The mark itself, for the words that explain it."""
    return _mark(x, y)


def _sides(
    ends: tuple[float, float] | None,
    middle_x: float,
    top: float,
    bottom: float,
    scale: float,
    stroke: float,
    dashes: str = "none",
) -> Iterator[str]:
    if ends is None:
        return
    above, below = (size * scale / 2 for size in ends)
    for side in (-1, 1):
        yield svg.line(
            middle_x + side * above, top, middle_x + side * below, bottom,
            stroke_width=stroke, stroke_dasharray=dashes,
        )  # fmt: skip


def _mark(x: float, y: float) -> str:
    """A triangle that points at the whip."""
    corners = [(x - MARK, y), (x + MARK, y - MARK), (x + MARK, y + MARK)]
    return svg.path(corners, closed=True, fill=svg.INK)
