"""Blocks of a bench sheet one below the other on pages: breaks fall between rows, heads are repeated."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.service.reports import svg
from plaitlog.service.reports.blank_card import SHEETS, Paper

READ: Final = 12 / 72 * 25.4
"""Size of what is read at the bench, mm: 12 points."""
SMALL: Final = 10 / 72 * 25.4
"""The least size of print, mm: 10 points."""
MARGIN: Final = 12.0
RUNNING: Final = 9.0
"""Height of the line with the label at the top of every page, mm."""
APART: Final = 4.0
TOGETHER: Final = 2
"""Rows that never stand apart from the head above them."""


@dataclass(frozen=True, slots=True)
class Row:
    """Something ``height`` mm high that is never parted; ``draw`` takes the place of its upper edge."""

    height: float
    draw: Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Block:
    """Rows under a head; ``again``: the head on the next page. whole : rather on a new page than parted.

    filling : is repeated below the rows as far as the page has room.
    """

    head: tuple[Row, ...]
    rows: tuple[Row, ...]
    again: tuple[Row, ...] = ()
    whole: bool = False
    filling: Row | None = None


def height_of(rows: Iterable[Row]) -> float:
    return sum(row.height for row in rows)


def flowed(blocks: Sequence[Block], paper: Paper) -> list[str]:
    """What stands on each page below its running line."""
    top, bottom = MARGIN + RUNNING, SHEETS[paper][1] - MARGIN
    done: list[str] = []
    drawn: list[str] = []
    y = top

    def put(rows: Iterable[Row]) -> None:
        nonlocal y
        for row in rows:
            drawn.append(row.draw(y))
            y += row.height

    def turn() -> None:
        nonlocal y
        done.append("".join(drawn))
        drawn.clear()
        y = top

    for block in blocks:
        if drawn:
            y += APART
        first = height_of(block.head) + height_of(block.rows if block.whole else block.rows[:TOGETHER])
        if drawn and y + first > bottom:
            turn()
        put(block.head)
        for place, row in enumerate(block.rows):
            # The last row does not go to a new page alone.
            left = height_of(block.rows[place:]) if len(block.rows) - place == TOGETHER else row.height
            if place and y + left > bottom:
                turn()
                put(block.again)
            put([row])
        while block.filling is not None and y + block.filling.height <= bottom:
            put([block.filling])
    done.append("".join(drawn))
    return done


def on_pages(contents: Sequence[str], label: str, beside: str, paper: Paper) -> list[str]:
    """Whole pages: each with the label and its number of all."""
    width, height = SHEETS[paper]
    left, right, base = MARGIN, width - MARGIN, MARGIN + 4
    found = []
    for number, content in enumerate(contents, start=1):
        count = f"page {number} of {len(contents)}"
        room = right - left - svg.width_of(count, SMALL) - 6
        # The bold letters of the label are broader than the estimate.
        name = svg.fitted(label, room * 0.6, SMALL)
        start = left + svg.width_of(name, SMALL) * 1.1 + 4
        end = right - svg.width_of(count, SMALL) - 3
        found.append(
            svg.document(
                width,
                height,
                f"Bench sheet {label}, {count}",
                svg.text(left, base, name, SMALL, font_weight="bold"),
                svg.text(start, base, svg.fitted(beside, end - start, SMALL), SMALL),
                svg.text(right, base, count, SMALL, text_anchor="end"),
                svg.line(left, base + 2, right, base + 2, stroke_width=0.3),
                content,
            )
        )
    return found
