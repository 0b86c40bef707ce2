"""Rows as CSV: UTF-8 with a byte order mark, CR LF, comma, decimal point.

The byte order mark is there because spreadsheet programs take a CSV file without one for cp1252.
"""

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Final

from plaitlog.service.usecases.spreadsheets.neutral import neutral
from plaitlog.service.usecases.spreadsheets.table import Cell

_ROWS_AT_ONCE: Final = 500
# RFC 4180 names comma, quote and line breaks; blanks at an end are lost in some programs without quotes, and
# the other delimiters are quoted so that no reader takes one of them for the delimiter of the file.
_IN_QUOTES: Final = re.compile(r'[,;|\t"\r\n]|^[\s\x1c-\x1f]|\s$')


def write_csv(rows: Iterable[Sequence[Cell]]) -> Iterator[bytes]:
    """A file in pieces; None is an empty cell, a text that would run as a formula is made neutral.

    Raises
    ------
    ValueError
        For a number that is not finite, and a text that holds half of a surrogate pair.
    """
    pending = ["\ufeff"]
    for row in rows:
        line = ",".join(_field(cell) for cell in row)
        pending.append(f"{line}\r\n" if line else '""\r\n' if row else "\r\n")
        if len(pending) >= _ROWS_AT_ONCE:
            yield "".join(pending).encode()
            pending = []
    yield "".join(pending).encode()


def number_text(number: float) -> str:
    """The shortest decimal that reads back as the same number, without an exponent; 12 for 12.0."""
    if number != number or number in (float("inf"), float("-inf")):
        raise ValueError(f"{number} cannot stand in a table")
    text = repr(number)
    if "e" in text:
        text = format(Decimal(text), "f")
    return text.removesuffix(".0")


def _field(cell: Cell) -> str:
    match cell:
        case None:
            return ""
        case bool():
            return "true" if cell else "false"
        case int() | float():
            return number_text(cell)
        case dt.datetime():
            return cell.isoformat(sep=" ")
        case dt.date():
            return cell.isoformat()
    text = neutral(cell)
    if _IN_QUOTES.search(text):
        return '"' + text.replace('"', '""') + '"'
    return text
