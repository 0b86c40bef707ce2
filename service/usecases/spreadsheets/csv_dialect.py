"""How a CSV file is written, by the evidence of its first lines: delimiter, blanks, decimal mark."""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from typing import Final

DELIMITERS: Final = (";", "\t", "|", ",")
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
    """The delimiter under which most rows have the same number of cells, and more than one.

    Where two agree on as many rows, the one that makes more cells; then any before the comma, which also
    stands in numbers. The header counts as a row: a title above it has one cell under any delimiter. Where
    no row has two cells, there is one column, and the comma.
    """
    best, best_score = ",", (0, 0)
    for delimiter in DELIMITERS:
        rows = [cells for cells in parsed(lines, delimiter) if any(cell.strip() for cell in cells)]
        widths = Counter(len(cells) for cells in rows if len(cells) > 1)
        score = max(((count, width) for width, count in widths.items()), default=(0, 0))
        if score > best_score:
            best, best_score = delimiter, score
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
    """The cells of a few lines, each read by itself, so that no quote reaches beyond its line."""
    return [next(csv.reader([line], delimiter=delimiter), []) for line in lines]
