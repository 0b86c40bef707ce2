"""Rows under a header: the names of the columns, and what keeps a row from lying under them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.service.schemas.values import shown
from plaitlog.service.usecases.spreadsheets.table import Cell, TableLimits

_NUL: Final = "\0"


@dataclass(frozen=True, slots=True)
class Header:
    """The names of the columns, as they stand; empty where a column has none."""

    names: tuple[str, ...]

    def place(self, column: int, address: str = "") -> str:
        """A column (from 0) in words: its name and its number, or the address of the cell."""
        number = address or f"column {column + 1}"
        name = self.names[column].strip() if column < len(self.names) else ""
        return f"{name} ({number})" if name else number


def is_blank(cells: Sequence[Cell]) -> bool:
    """Whether a row holds nothing."""
    return all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells)


def header_of(cells: Sequence[Cell]) -> Header:
    """The header that a row makes; columns without a name at its end are none."""
    names = ["" if cell is None else str(cell) for cell in cells]
    while names and not names[-1].strip():
        names.pop()
    return Header(tuple(names))


def header_refusal(header: Header, limits: TableLimits) -> Finding | None:
    """What keeps a header from serving."""
    if len(header.names) > limits.columns:
        return Finding(
            "too-many-columns",
            f"the table has {len(header.names)} columns; {limits.columns} can be read",
            "delete the columns that are not needed, or save the table turned on its side",
        )
    seen: dict[str, int] = {}
    for column, name in enumerate(header.names):
        key = re.sub(r"\s+", " ", name).strip().casefold()
        if key and key in seen:
            return Finding(
                "column-twice",
                f"{name.strip()!r} names columns {seen[key] + 1} and {column + 1}",
                "rename or delete one of them",
                header.place(column),
            )
        seen[key] = column
        if (wrong := _cell_refusal(name, limits)) is not None:
            return wrong.at(f"column {column + 1}")
    return None


def row_refusal(cells: Sequence[Cell], header: Header, limits: TableLimits) -> tuple[int, Finding] | None:
    """The first cell (its column from 0) that keeps a row from being taken, and why."""
    for column, cell in enumerate(cells):
        if isinstance(cell, str):
            if (wrong := _cell_refusal(cell, limits)) is not None:
                return column, wrong
            if not cell.strip():
                continue
        elif cell is None:
            continue
        if column >= len(header.names):
            text = f"{shown(cell)} stands beyond the last column of the header"
            return column, Finding(
                "too-many-cells", text, "give the column a name, or put the text in quotes if it holds commas"
            )
        if not header.names[column].strip():
            return column, Finding(
                "no-column-name", f"{shown(cell)} stands in a column without a name", "name the column"
            )
    return None


def _cell_refusal(text: str, limits: TableLimits) -> Finding | None:
    if _NUL in text:
        return Finding("not-text", f"{shown(text)} holds a character that is no text", "take it out")
    if len(text) > limits.cell_characters:
        return Finding(
            "cell-too-long",
            f"{shown(text)} has {len(text)} characters; {limits.cell_characters} can be read",
            "shorten it",
        )
    return None
