"""Where the quotes of one line of CSV go wrong."""

from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.service.schemas.values import shown

_REMEDY: Final = "put the cell in quotes and write a quote mark inside it twice, or take the quote marks out"


def quote_fault(line: str, delimiter: str, blanks_before_quotes: bool) -> tuple[int, Finding]:
    """Column (from 0) and fault of the first quoted cell that is not closed as RFC 4180 says.

    The line is known to be faulty. A cell that is closed but not followed by a delimiter is the fault, or
    else the cell that is still open at the end of the line.
    """
    text = line.rstrip("\r\n")
    column = place = 0
    while True:
        start = place
        if blanks_before_quotes:
            while text[place : place + 1] == " ":
                place += 1
        if text[place : place + 1] == '"':
            closing = _closing(text, place + 1)
            if closing is None:
                return column, _open(text[start:])
            place = closing + 1
            if place < len(text) and text[place] != delimiter:
                return column, _followed(text[start : place + 10], text[place])
        if (place := text.find(delimiter, place)) < 0:
            return column, _open(text)
        column += 1
        place += 1


def _closing(text: str, place: int) -> int | None:
    """Place of the quote that ends a quoted cell whose content begins at ``place``."""
    while (place := text.find('"', place)) >= 0:
        if text[place + 1 : place + 2] != '"':
            return place
        place += 2
    return None


def _open(cell: str) -> Finding:
    return Finding(
        "quote-not-closed", f"the quote before {shown(cell[1:])} opens here and is not closed", _REMEDY
    )


def _followed(cell: str, character: str) -> Finding:
    return Finding(
        "quote-inside", f"{shown(cell)}: {character!r} follows the quote mark that ends the cell", _REMEDY
    )
