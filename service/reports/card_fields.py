"""The blocks of a blank card; each gives its SVG and where it ends, mm from the top of the page."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.service.reports import svg

LABEL: Final = 2.45
"""Size of the small print beside a place to write, mm."""
CELL: Final = 8.9
COLUMNS: Final = 4
GAP: Final = 3.0
ROW: Final = 5.7
RATE: Final = 5.1
LINE: Final = 6.8
APART: Final = "\u00a0" * 3
"""Between words to be circled; plain blanks would be drawn as one."""


@dataclass(frozen=True, slots=True)
class CardField:
    """One question of the card: its key, what is asked, what may be circled, what is filled in already."""

    key: str
    ask: str
    choices: tuple[str, ...] = ()
    filled: str = ""


def heading(words: str, left: float, right: float, y: float, beside: str = "") -> tuple[str, float]:
    """The head of a block, with small print at its side."""
    said = svg.text(left, y + 3.6, words, 3.4, font_weight="bold")
    start = left + svg.width_of(words, 3.4) * 1.08 + 3
    small = svg.text(start, y + 3.6, svg.fitted(beside, right - start, LABEL), LABEL, fill=svg.GREY)
    return said + (small if beside else ""), y + 5.4


def heading_with_blank(words: str, ask: str, left: float, right: float, y: float) -> tuple[str, float]:
    """The head of a block, with one question and room for its answer at its side."""
    said, after = heading(words, left, right, y, f"{ask}:")
    start = left + svg.width_of(words, 3.4) * 1.08 + 4 + svg.width_of(ask, LABEL)
    return said + svg.line(start, y + 4, start + 30, y + 4, stroke_width=0.15), after


def grid(fields: Sequence[CardField], left: float, right: float, y: float) -> tuple[str, float]:
    """Fields side by side, each as many columns wide as its words need, in their order."""
    column = (right - left + GAP) / COLUMNS
    rows: list[list[tuple[CardField, int]]] = [[]]
    for field in fields:
        span = min(COLUMNS, _columns(field, column))
        if rows[-1] and sum(taken for _, taken in rows[-1]) + span > COLUMNS:
            rows.append([])
        rows[-1].append((field, span))
    found: list[str] = []
    for row in rows:
        x = left
        spare = COLUMNS - sum(span for _, span in row)
        for place, (field, span) in enumerate(row):
            # What is left of a row goes to its last field.
            width = (span + (spare if place == len(row) - 1 else 0)) * column - GAP
            found.extend(_field(field, x, y, width))
            x += span * column
        y += CELL
    return "".join(found), y


def _columns(field: CardField, column: float) -> int:
    wanted = max(svg.width_of(field.ask, LABEL), svg.width_of(APART.join(field.choices), 2.8))
    return next((n for n in range(1, COLUMNS) if wanted <= n * column - GAP), COLUMNS)


def _field(field: CardField, x: float, y: float, width: float) -> Iterator[str]:
    yield svg.text(x, y + 2.6, svg.fitted(field.ask, width, LABEL), LABEL, fill=svg.GREY)
    yield svg.line(x, y + CELL - 1, x + width, y + CELL - 1, stroke_width=0.15)
    if field.filled:
        yield svg.text(x, y + CELL - 2.2, svg.fitted(field.filled, width, 3.4), 3.4, font_weight="bold")
    elif field.choices:
        words = APART.join(field.choices)
        yield svg.text(x, y + CELL - 2.2, words, 2.8)


def layer_lines(
    places: Sequence[str], roles: Sequence[str], left: float, right: float, y: float
) -> tuple[str, float]:
    """Two lines a layer: its role to be circled and its strands, then room for more and for its cords."""
    found = []
    letters = right - 62
    for place in places:
        for number in (1, 2):
            y += LINE
            start = left + 58 if number == 1 else left
            end = right if number == 1 else letters - 4
            found.append(svg.line(start, y, end, y, stroke_width=0.15))
        first, second = y - LINE, y
        words = APART.join((place, *roles))
        found.append(svg.text(left, first - 0.8, words, 2.6))
        found.append(svg.text(letters, second - 0.8, "letter = cord:", LABEL, fill=svg.GREY))
        found.append(svg.line(letters + 17, second, right, second, stroke_width=0.15))
    return "".join(found), y + 1.6


def one_line(field: CardField, left: float, right: float, y: float) -> tuple[str, float]:
    """A question with its answers to be circled behind it."""
    words = APART.join((f"{field.ask}?", *field.choices))
    return svg.text(left, y + 3.4, svg.fitted(words, right - left, 2.7), 2.7), y + 5.2


def reading_table(
    heads: Sequence[tuple[str, float]], rows: int, blocks: int, left: float, right: float, y: float
) -> tuple[str, float]:
    """Empty rows in ``blocks`` tables side by side; ``heads`` with the share of the width each column has."""
    found = []
    width = (right - left - GAP * (blocks - 1)) / blocks
    whole = sum(share for _, share in heads)
    for block in range(blocks):
        x = left + block * (width + GAP)
        found.append(svg.rect(x, y, width, ROW * (rows + 1), fill="none", stroke=svg.INK, stroke_width=0.2))
        for row in range(1, rows + 1):
            weight = 0.25 if row == 1 else 0.12
            found.append(svg.line(x, y + row * ROW, x + width, y + row * ROW, stroke_width=weight))
        for place, (head, share) in enumerate(heads):
            if place:
                found.append(svg.line(x, y, x, y + ROW * (rows + 1), stroke_width=0.12))
            room = width * share / whole
            found.append(svg.text(x + 0.9, y + 3.9, svg.fitted(head, room - 1, LABEL), LABEL, fill=svg.GREY))
            x += room
    return "".join(found), y + ROW * (rows + 1)


def scores(
    fields: Sequence[CardField], not_tried: str, left: float, right: float, y: float
) -> tuple[str, float]:
    """A row for each quality: its name, what the scale means, 1 to 10 to be circled."""
    found = []
    numbers = right - 66
    for field in fields:
        name, _, anchors = field.ask.partition(" (")
        base = y + RATE - 1.5
        found.append(svg.text(left, base, name, 2.8, font_weight="bold"))
        words = svg.fitted(anchors.removesuffix(")"), numbers - left - 21, 2.35)
        found.append(svg.text(left + 19, base, words, 2.35, fill=svg.GREY))
        for score in range(1, 11):
            x = numbers + score * 4.9
            found.append(svg.text(x, base, str(score), 3, text_anchor="middle"))
        found.append(svg.text(right, base, not_tried, LABEL, text_anchor="end", fill=svg.GREY))
        found.append(svg.line(left, y + RATE, right, y + RATE, stroke=svg.PALE, stroke_width=0.12))
        y += RATE
    return "".join(found), y


def feels(fields: Sequence[CardField], left: float, right: float, y: float) -> tuple[str, float]:
    """Two-sided notes side by side: from one side to the other, -2 to +2 to be circled."""
    lines = []
    for field in fields:
        low, _, high = field.ask.removeprefix("Feel: ").partition(" to ")
        words = APART.join((low.removeprefix("-2 "), "−2", "−1", "0", "+1", "+2", high.removeprefix("+2 ")))
        lines.append(words)
    widths = [svg.width_of(words, 2.7) for words in lines]
    apart = (right - left - sum(widths)) / max(len(lines) - 1, 1)
    found, x = [], left
    for words, width in zip(lines, widths, strict=True):
        found.append(svg.text(x, y + 4.2, words, 2.7))
        x += width + apart
    return "".join(found), y + 6.2


def paragraph(words: str, left: float, right: float, y: float, size: float = LABEL) -> tuple[str, float]:
    """Small print over the width."""
    lines = svg.wrapped(words, right - left, size)
    found = [svg.text(left, y + size * 1.25 * (k + 1), line, size) for k, line in enumerate(lines)]
    return "".join(found), y + size * 1.25 * len(lines) + 1
