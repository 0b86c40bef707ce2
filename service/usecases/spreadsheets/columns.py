"""What a column of a table is: the place in a record that its cells fill, and how they are read."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from plaitlog.models.units import (
    DIAMETER,
    FIBRE_DENSITY,
    GIRTH,
    LENGTH,
    LINEAR_DENSITY,
    MASS,
    THICKNESS,
    Quantity,
)

Way = Literal[
    "size", "typed", "text", "word", "number", "whole", "score", "feel", "day", "yes", "words", "letters",
    "signs", "cords", "strands", "steps", "pattern", "reading", "stuff", "document",
]  # fmt: skip
"""How a cell is read; ``values.py`` has one function for each."""

TYPED: Final = "as typed"


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes
    ----------
    key : place in the record, parts joined by dots (``foundation.diameter_mm``).
    title : its header in an export.
    way : how a cell is read.
    names : what else makers write above such a column, in plain words.
    quantity : of a size, what the number stands for.
    text_key : of a size, where the same goes as text with its unit.
    """

    key: str
    title: str
    way: Way
    names: tuple[str, ...] = ()
    quantity: Quantity | None = None
    text_key: str = ""

    @property
    def stored_unit(self) -> str:
        assert self.quantity is not None
        return self.quantity.stored


@dataclass(frozen=True, slots=True)
class Table:
    """One kind of table.

    ``kind`` is that of the records its rows make; a part (layers, turn lengths, ...) has the key of the
    whip's list in ``part`` and its rows are gathered by whip. ``subject`` is the key that says whose row it
    is. ``required`` are sets of keys of which one each has to be among the columns.
    """

    name: str
    kind: str
    columns: tuple[Column, ...]
    subject: str
    required: tuple[frozenset[str], ...]
    part: str = ""
    names: tuple[str, ...] = ()

    def column(self, key: str) -> Column:
        return next(column for column in self.columns if column.key == key)


def text(key: str, title: str, *names: str, way: Way = "text") -> tuple[Column, ...]:
    return (Column(key, title, way, names),)


def size(key: str, title: str, quantity: Quantity, *names: str) -> tuple[Column, ...]:
    """A size is two columns: the number in its stored unit, and the text it was typed as."""
    stored = quantity.stored
    head, _, last = key.rpartition(".")
    ending = {"mm": "_mm", "g": "_g", "g/m": "_g_per_m", "g/cm3": "_g_per_cm3"}[stored]
    text_key = f"{head}.{last.removesuffix(ending)}" if head else last.removesuffix(ending)
    return (
        Column(key, f"{title} ({stored})", "size", (title, *names), quantity, text_key),
        Column(text_key, f"{title} {TYPED}", "typed"),
    )


def diameter(key: str, title: str, *names: str) -> tuple[Column, ...]:
    return size(key, title, DIAMETER, *names)


def length(key: str, title: str, *names: str) -> tuple[Column, ...]:
    return size(key, title, LENGTH, *names)


def thickness(key: str, title: str, *names: str) -> tuple[Column, ...]:
    return size(key, title, THICKNESS, *names)


def girth(key: str, title: str, *names: str) -> tuple[Column, ...]:
    return size(key, title, GIRTH, *names)


def mass(key: str, title: str, *names: str) -> tuple[Column, ...]:
    return size(key, title, MASS, *names)


def linear_density(key: str, title: str, *names: str) -> tuple[Column, ...]:
    return size(key, title, LINEAR_DENSITY, *names)


def fibre_density(key: str, title: str, *names: str) -> tuple[Column, ...]:
    return size(key, title, FIBRE_DENSITY, *names)


def joined(*groups: Sequence[Column]) -> tuple[Column, ...]:
    return tuple(column for group in groups for column in group)
