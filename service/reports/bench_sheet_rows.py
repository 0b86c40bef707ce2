"""Rows of a bench sheet: words, steps to tick, blanks to fill in, tables with columns."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.service.reports import svg
from plaitlog.service.reports.bench_sheet_flow import READ, SMALL, Row

LINE: Final = 5.6
"""Height of a line of what is read, mm."""
ROW: Final = 7.2
"""Height of a row of a table: room to write in by hand, mm."""
BOX: Final = 4.0
PAD: Final = 1.0
BLANK: Final = 9.0
HEAD: Final = 6.4


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table, ``width`` mm; ``key`` "tick" holds a box, "blank" room to write."""

    key: str
    head: str
    width: float
    numbers: bool = False


def title(words: str, left: float, right: float, beside: str = "") -> Row:
    """The head of a block; ``beside`` stands at the right end of the line, as far as there is room."""

    def draw(y: float) -> str:
        said = svg.text(left, y + 5.4, svg.fitted(words, right - left, 5), 5, font_weight="bold")
        start = left + svg.width_of(words, 5) * 1.08 + 4
        small = svg.text(
            right, y + 5.4, svg.fitted(beside, right - start, SMALL), SMALL, text_anchor="end",
            font_style="italic",
        )  # fmt: skip
        return said + (small if beside else "")

    return Row(8.0, draw)


def words(
    said: str, left: float, right: float, size: float = READ, *, lead: str = "", box: bool = False
) -> list[Row]:
    """A paragraph in lines; ``lead`` begins it in bold, ``box`` puts a box to tick before it."""
    start = left + (BOX + 2.5 if box else 0.0)
    indent = svg.width_of(lead, size) * 1.1 + 1.6 if lead else 0.0
    line = size * LINE / READ
    lines = svg.wrapped(said, right - start - indent, size) or [""]

    def drawn(place: int) -> Row:
        def draw(y: float) -> str:
            base = y + line - size * 0.3
            found = svg.text(start + indent, base, lines[place], size)
            if place == 0:
                found += svg.text(start, base, lead, size, font_weight="bold") if lead else ""
                found += _box(left, base - BOX + 0.4) if box else ""
            return found

        return Row(line, draw)

    rows = [drawn(place) for place in range(len(lines))]
    return [*rows[:-1], Row(rows[-1].height + 1.0, rows[-1].draw)]


def blank(ask: str, left: float, right: float, size: float = SMALL) -> Row:
    """A question, and a line to write the answer on."""
    asked = svg.wrapped(f"{ask}:", (right - left) * 0.66, size)
    height = BLANK + (len(asked) - 1) * 4.4

    def draw(y: float) -> str:
        base = y + height - 2
        found = [
            svg.text(left, base - (len(asked) - 1 - place) * 4.4, line, size)
            for place, line in enumerate(asked)
        ]
        start = left + max(svg.width_of(line, size) for line in asked) + 2
        return "".join(found) + svg.line(start, base, right, base, stroke_width=0.25)

    return Row(height, draw)


def blanks(asks: Sequence[str], left: float, right: float) -> list[Row]:
    """Questions one below the other, short ones two in a row; the last one has a row of its own."""
    half = (right - left - 6) / 2
    found: list[Row] = []
    waiting: str | None = None

    def short(ask: str) -> bool:
        return svg.width_of(f"{ask}:", SMALL) <= half * 0.55

    for ask in [*asks[:-1], None]:
        if waiting is not None and ask is not None and short(ask):
            one, other = blank(waiting, left, left + half), blank(ask, right - half, right)
            found.extend(side_by_side([one], [other]))
            waiting = None
            continue
        if waiting is not None:
            found.append(blank(waiting, left, right))
        waiting = ask if ask is not None and short(ask) else None
        if ask is not None and waiting is None:
            found.append(blank(ask, left, right))
    return [*found, *(blank(ask, left, right) for ask in asks[-1:])]


def blank_line(left: float, right: float) -> Row:
    return Row(BLANK, lambda y: svg.line(left, y + BLANK - 2, right, y + BLANK - 2, stroke_width=0.25))


def table_head(columns: Sequence[Column], left: float) -> Row:
    def draw(y: float) -> str:
        found, x = [], left
        for column in columns:
            if column.head:
                found.append(_cell(column, column.head, x, y + HEAD - 2, SMALL, font_weight="bold"))
            x += column.width
        return "".join(found) + svg.line(left, y + HEAD, x, y + HEAD, stroke_width=0.4)

    return Row(HEAD, draw)


def table_row(
    columns: Sequence[Column],
    cells: Mapping[str, str],
    left: float,
    beside: Row | None = None,
    *,
    done: bool = False,
) -> Row:
    """A row of a table, ticked where it is done; ``beside`` is drawn at the same height."""

    def draw(y: float) -> str:
        found, x = [], left
        for column in columns:
            if column.key == "tick":
                found.append(_box(x + PAD, y + (ROW - BOX) / 2, ticked=done))
            elif column.key.startswith("blank"):
                found.append(
                    svg.rect(x + 0.6, y + 0.7, column.width - 1.2, ROW - 1.4, fill="none", stroke=svg.INK,
                             stroke_width=0.2)
                )  # fmt: skip
            elif cells.get(column.key):
                found.append(_cell(column, cells[column.key], x, y + ROW - 2.2, READ))
            x += column.width
        found.append(svg.line(left, y + ROW, x, y + ROW, stroke_width=0.12))
        return "".join(found) + (beside.draw(y) if beside else "")

    return Row(ROW, draw)


def side_by_side(left: Sequence[Row], right: Sequence[Row]) -> list[Row]:
    """Two tables beside each other as one; the left one is the longer."""

    def pair(one: Row, other: Row) -> Row:
        return Row(one.height, lambda y: one.draw(y) + other.draw(y))

    return [pair(one, right[k]) if k < len(right) else one for k, one in enumerate(left)]


def _cell(column: Column, said: str, x: float, base: float, size: float, **attributes: svg.Attribute) -> str:
    # Bold runs broader than the estimate.
    fit = svg.fitted(said, (column.width - PAD) * (0.95 if attributes else 1.0), size)
    if column.numbers:
        return svg.text(x + column.width - 2 * PAD, base, fit, size, text_anchor="end", **attributes)
    return svg.text(x + PAD, base, fit, size, **attributes)


def _box(x: float, y: float, *, ticked: bool = False) -> str:
    box = svg.rect(x, y, BOX, BOX, fill="none", stroke=svg.INK, stroke_width=0.35)
    if not ticked:
        return box
    end_x, end_y = x + BOX, y + BOX
    return (
        box
        + svg.line(x, y, end_x, end_y, stroke_width=0.35)
        + svg.line(x, end_y, end_x, y, stroke_width=0.35)
    )
