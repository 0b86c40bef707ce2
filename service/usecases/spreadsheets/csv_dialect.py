"""How a CSV file is written, by the evidence of its first lines: delimiter, blanks, decimal mark."""

import csv
import re
from collections.abc import Sequence
from typing import Final

DELIMITERS: Final = (",", ";", "\t", "|")
DELIMITER_NAMES: Final = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}

_STATED: Final = re.compile(r'"?sep=(.)"?[\r\n]*', re.IGNORECASE | re.DOTALL)
# 1,234 may be a thousand and more, 0,472 and 12,5 may not.
_COMMA: Final = re.compile(r"[-+]?(?:0,\d+|[1-9][\d.]*,(?:\d{1,2}|\d{4,}))(?!\d)(?:\s*[^\d\s,.].*)?")
_POINT: Final = re.compile(r"[-+]?(?:0?\.\d+|[1-9][\d,]*\.(?:\d{1,2}|\d{4,}))(?!\d)(?:\s*[^\d\s,.].*)?")


def stated_delimiter(line: str) -> str | None:
    """The delimiter that a first line ``sep=;`` states, as some office programs write it."""
    found = _STATED.fullmatch(line)
    return found.group(1) if found else None


def find_delimiter(lines: Sequence[str]) -> str:
    """The delimiter under which the header has several cells and most rows have as many.

    Where two do, the one that more rows agree with; where none does, there is one column, and the comma.
    """
    best, best_score = ",", (0.0, 0)
    for delimiter in DELIMITERS:
        widths = [len(cells) for cells in parsed(lines, delimiter) if any(cell.strip() for cell in cells)]
        if not widths or widths[0] < 2:
            continue
        agreeing = sum(width == widths[0] for width in widths) / len(widths)
        if (agreeing, widths[0]) > best_score:
            best, best_score = delimiter, (agreeing, widths[0])
    return best


def has_blanks_before_quotes(lines: Sequence[str], delimiter: str) -> bool:
    """Whether cells begin with a blank and then a quote: ``12, "a, b"``."""
    return any(re.search(re.escape(delimiter) + ' +"', line) for line in lines)


def decimal_comma(rows: Sequence[Sequence[str]]) -> bool | None:
    """Whether numbers are written 12,5 (True) or 12.5 (False); None where none or both are."""
    cells = [cell.strip() for row in rows for cell in row]
    comma = any(_COMMA.fullmatch(cell) for cell in cells)
    point = any(_POINT.fullmatch(cell) for cell in cells)
    return comma if comma != point else None


def parsed(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """The rows of a few lines, however faulty."""
    return list(csv.reader(lines, delimiter=delimiter))
