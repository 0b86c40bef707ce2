"""A page to fill in by hand at the bench, its questions in the order in which recording asks them."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Final, Literal

from plaitlog.service.reports import card_fields as blocks
from plaitlog.service.reports import svg
from plaitlog.service.reports.card_fields import CardField as CardField

Paper = Literal["a4", "letter"]
Block = Literal["fields", "layers", "readings", "scores", "feels"]
SHEETS: Final[Mapping[Paper, tuple[float, float]]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm: ISO 216 and ANSI/ASME Y14.1."""
MARGIN: Final = 10.0
TABLES: Final = 3
FEWEST_ROWS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankCard:
    """What is printed.

    ``fields`` stand in the order of recording; ``block`` tells by a field's key where it belongs. ``roles``
    are circled for a layer; the first field of the scores is asked in their heading;
    ``reading_heads`` are the columns of the readings with their share of the width.
    """

    title: str
    beside_title: str
    fields: tuple[CardField, ...]
    block: Callable[[str], Block]
    roles: tuple[str, ...]
    reading_heads: tuple[tuple[str, float], ...]
    beside_layers: str
    notation: tuple[str, ...]
    beside_readings: str
    not_tried: str
    cautions: tuple[str, ...]


def to_svg(card: BlankCard, paper: Paper = "a4") -> str:
    """The card as one page; what room is left goes to the readings."""
    rows = reading_rows(card, paper)
    content, _ = _page(card, paper, rows)
    width, height = SHEETS[paper]
    return svg.document(width, height, card.title, content)


def reading_rows(card: BlankCard, paper: Paper) -> int:
    """Rows of readings for which the page has room."""
    _, used = _page(card, paper, 0)
    return max(FEWEST_ROWS, int((SHEETS[paper][1] - MARGIN - used) / blocks.ROW))


def _page(card: BlankCard, paper: Paper, rows: int) -> tuple[str, float]:
    width, _ = SHEETS[paper]
    left, right = MARGIN, width - MARGIN
    found, y = [svg.text(left, MARGIN + 4.5, card.title, 5, font_weight="bold")], MARGIN + 6.5
    found.append(svg.text(right, MARGIN + 4.5, card.beside_title, 2.6, text_anchor="end", fill=svg.GREY))
    for block, group in groupby(card.fields, key=lambda field: card.block(field.key)):
        drawn, y = _block(card, block, list(group), rows, left, right, y)
        found.append(drawn)
    for caution in card.cautions:
        drawn, y = blocks.paragraph(caution, left, right, y, 2.3)
        found.append(drawn)
    return "".join(found), y


def _block(
    card: BlankCard, block: Block, fields: list[CardField], rows: int, left: float, right: float, y: float
) -> tuple[str, float]:
    if block == "fields":
        return blocks.grid(fields, left, right, y)
    if block == "layers":
        return _stacked(_layers(card, fields, left, right), y)
    if block == "readings":
        return _stacked(_readings(card, rows, left, right), y)
    if block == "scores":
        return _stacked(_scores(card, fields, left, right), y)
    return blocks.feels(fields, left, right, y)


Part = Callable[[float], tuple[str, float]]


def _stacked(parts: Iterator[Part], y: float) -> tuple[str, float]:
    found = []
    for part in parts:
        drawn, y = part(y)
        found.append(drawn)
    return "".join(found), y


def _layers(card: BlankCard, fields: list[CardField], left: float, right: float) -> Iterator[Part]:
    yield lambda y: blocks.heading("Layers, inside out", left, right, y, card.beside_layers)
    for words in card.notation:
        yield lambda y, words=words: blocks.paragraph(words, left, right, y)  # type: ignore[misc]
    places = [field.key.removeprefix("layer.") for field in fields if field.key.startswith("layer.")]
    yield lambda y: blocks.layer_lines(places, card.roles, left, right, y)
    for field in fields:
        if field.choices:
            yield lambda y, field=field: blocks.one_line(field, left, right, y)  # type: ignore[misc]


def _readings(card: BlankCard, rows: int, left: float, right: float) -> Iterator[Part]:
    yield lambda y: blocks.heading("Readings", left, right, y, card.beside_readings)
    yield lambda y: blocks.reading_table(card.reading_heads, rows, TABLES, left, right, y)
    yield lambda y: ("", y + 1.5)


def _scores(card: BlankCard, fields: list[CardField], left: float, right: float) -> Iterator[Part]:
    head, *qualities = fields
    yield lambda y: blocks.heading_with_blank("How it handles", head.ask, left, right, y)
    yield lambda y: blocks.scores(qualities, card.not_tried, left, right, y)
