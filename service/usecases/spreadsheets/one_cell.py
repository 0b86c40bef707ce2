"""One cell: whether it holds anything, its text, and how the file it stands in writes numbers."""

import datetime as dt
import json
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.service.usecases.spreadsheets.numbers import Mark, plain_number

Pairs = list[tuple[str, Any]]
"""Keys of a record with their values; none where the cell says nothing."""

UNKNOWN: Final = frozenset({"?", "-", "--", "_", "\u2013", "\u2014", "n/a", "na", "not noted", "unknown"})
"""What a maker writes in the cell of a number that is not known."""


@dataclass(frozen=True, slots=True)
class NumberForm:
    """How the cells of one file are read: its decimal mark, and whether semicolons part its cells."""

    mark: Mark | None = None
    semicolons: bool = False

    def number(self, text: str) -> str:
        return plain_number(text, self.mark, self.semicolons)


def is_blank(cell: object) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def as_text(cell: Any) -> str:
    """A cell as text: numbers as short as they can be, without the noise of binary fractions."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return number_text(cell)
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        return cell.date().isoformat()
    return str(cell)


def number_text(value: float) -> str:
    """15 digits are what a spreadsheet program shows; what differs beyond is noise of its arithmetic."""
    short = f"{value:.15g}"
    text = repr(value) if "e" in short else short
    return text.removesuffix(".0")


def as_json(text: str, kind: type) -> Any:
    if not text.startswith(("[", "{")):
        return None
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, kind) else None
