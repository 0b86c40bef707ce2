"""The charts of a report on handling: intervals of rank correlations, and whips by name."""

from collections.abc import Iterator, Sequence
from typing import Final

from plaitlog.service.reports.handling_report import AssociationRow, NamedPoint, Scatter
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
from plaitlog.service.reports.svg import element, fitted, line, text, title, width_of

NAMES: Final = 150.0
ROW: Final = 24.0
NAME_SIZE: Final = 9.5
Box = tuple[float, float, float, float]


def forest(rows: Sequence[AssociationRow]) -> str:
    """Rank correlations with their 95 % intervals, in the order given; what is claimed is filled."""
    told = [row for row in rows if row.rho is not None]
    height = TOP + ROW * len(told) + BOTTOM
    across = Axis(-1.0, 1.0, NAMES, WIDTH - RIGHT)
    base = height - BOTTOM + 6
    marks: list[str] = [rule(across.at(0), TOP - 6, across.at(0), base, "target")]
    for k, row in enumerate(told):
        assert row.rho is not None
        y = TOP + ROW * k + 10
        marks.append(words_at(0, y + 4, fitted(row.title, NAMES - 8, LETTER), "label"))
        if row.low_95 is not None and row.high_95 is not None:
            ends = across.at(row.low_95), across.at(row.high_95)
            marks.append(line(ends[0], y, ends[1], y, stroke_width=1.6, class_="axis"))
        marks.append(dot(across.at(row.rho), y, row.claimed, 4.5))
    name = f"Rank correlations with their 95 % intervals: {', '.join(row.title for row in told)}"
    return chart(name, height, *bottom_axis(across, base, "rank correlation, 95 % interval"), *marks)


def scatter(picture: Scatter) -> str:
    """Whips by a parameter and their rating, as many of them named as there is room for."""
    points = picture.points
    height = 300.0
    across = Axis(*spread_of([one.value for one in points]), LEFT, WIDTH - RIGHT)
    up = Axis(*spread_of([one.rating for one in points]), height - BOTTOM, TOP)
    placed = [(across.at(one.value), up.at(one.rating), one) for one in points]
    return chart(
        f"{picture.quality} against {picture.parameter}, {len(points)} whips",
        height,
        *grid(across, up, picture.parameter, f"{picture.quality} (spreads from the rater's mean)"),
        *(_named_dot(x, y, one) for x, y, one in placed),
        *_names(placed),
    )


def _named_dot(x: float, y: float, one: NamedPoint) -> str:
    """A point that says its name when it is pointed at."""
    return element("g", title(one.label), dot(x, y, inside=True, radius=3.2))


def _names(placed: Sequence[tuple[float, float, NamedPoint]]) -> Iterator[str]:
    """Names beside their points where nothing else lies; the best and the worst rated come first."""
    taken: list[Box] = [(x - 3.5, y - 3.5, x + 3.5, y + 3.5) for x, y, _ in placed]
    middle = sum(y for _, y, _ in placed) / len(placed)
    for x, y, one in sorted(placed, key=lambda each: -abs(each[1] - middle)):
        name = fitted(one.label, 90, NAME_SIZE)
        wide = width_of(name, NAME_SIZE)
        for left, base in (
            (x + 5, y + 3),
            (x - 5 - wide, y + 3),
            (x - wide / 2, y - 6),
            (x - wide / 2, y + 13),
        ):
            box = (left, base - NAME_SIZE * 0.8, left + wide, base + 2)
            if box[0] > LEFT and box[2] < WIDTH - 2 and box[1] > 0 and not any(_meet(box, b) for b in taken):
                taken.append(box)
                yield text(left, base, name, NAME_SIZE, class_="small")
                break


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
