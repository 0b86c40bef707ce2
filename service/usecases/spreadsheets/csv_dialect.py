"""How a CSV file is written, by the evidence of its first lines: delimiter, blanks, decimal mark."""

import re
from collections import Counter
from collections.abc import Sequence
from typing import Final

from plaitlog.service.usecases.spreadsheets.csv_lines import Line, Lines
from plaitlog.service.usecases.spreadsheets.csv_records import Dialect, records
from plaitlog.service.usecases.spreadsheets.headed import is_blank
from plaitlog.service.usecases.spreadsheets.table import TableLimits

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


def find_dialect(lines: Sequence[Line], encoding: str, limits: TableLimits, stated: str | None) -> Dialect:
    """How the first lines of a file are written, with the delimiter that is ``stated`` or the best one.

    That is the delimiter under which rows with the same number of cells, more than one, cover the most
    lines; where two do, the one that makes more cells; then any before the comma, which also stands in
    numbers. The header counts as a row: a title above it has one cell under any delimiter. Where no row has
    two cells, there is one column, and the comma.
    """
    best = _dialect(encoding, stated or ",", lines)
    best_score = (0, 0)
    for delimiter in DELIMITERS if stated is None else ():
        dialect = _dialect(encoding, delimiter, lines)
        covered: Counter[int] = Counter()
        for record in records(Lines(lines), dialect, limits):
            if record.fault is None and len(record.cells) > 1 and not is_blank(record.cells):
                covered[len(record.cells)] += len(record.lines)
        score = max(((count, width) for width, count in covered.items()), default=(0, 0))
        if score > best_score:
            best, best_score = dialect, score
    return best


def _dialect(encoding: str, delimiter: str, lines: Sequence[Line]) -> Dialect:
    return Dialect(encoding, delimiter, has_blanks_before_quotes([line.text for line in lines], delimiter))


def has_blanks_before_quotes(lines: Sequence[str], delimiter: str) -> bool:
    """Whether cells begin with a blank and then a quote: ``12, "a, b"``."""
    return any(re.search(re.escape(delimiter) + ' +"', line) for line in lines)


def decimal_comma(rows: Sequence[Sequence[str]]) -> bool | None:
    """Whether numbers are written 12,5 (True) or 12.5 (False); None where none or both are."""
    cells = [cell.strip() for row in rows for cell in row]
    comma = any(_COMMA.fullmatch(cell) for cell in cells)
    point = any(_POINT.fullmatch(cell) for cell in cells)
    return comma if comma != point else None
