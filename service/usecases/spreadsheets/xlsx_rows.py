"""The rows of a sheet of an xlsx file."""

import datetime as dt
from collections.abc import Iterable, Iterator
from typing import Any, Final

from plaitlog.models.errors import Finding
from plaitlog.service.usecases.spreadsheets.headed import (
    Header,
    header_of,
    header_refusal,
    is_blank,
    row_refusal,
)
from plaitlog.service.usecases.spreadsheets.neutral import plain
from plaitlog.service.usecases.spreadsheets.table import Cell, RawRow, TableLimits
from plaitlog.service.usecases.spreadsheets.xlsx_scan import ScannedSheet

_EXACT_WHOLE: Final = 2**53


def rows(
    values: Iterable[list[Any]], first_column: int, seen: ScannedSheet, limits: TableLimits
) -> Iterator[RawRow]:
    """Header and rows of a sheet, from the values of all its rows.

    ``first_column`` (from 0) is where the values begin. A row with an error value, or with a formula that has
    no stored value, is refused; so is everything under a header that cannot serve.
    """
    header: Header | None = None
    for number, cells in _numbered(values, first_column, seen):
        odd = seen.odd.get(number)
        if odd is None and is_blank(cells):
            continue
        if header is None:
            header = header_of(cells)
            wrong = _odd(odd[0], header, number) if odd else header_refusal(header, limits)
            yield RawRow(number, list(header.names), wrong)
            continue
        yield _row(number, cells, odd, header, limits)


def _row(
    number: int, cells: list[Cell], odd: list[tuple[int, str]] | None, header: Header, limits: TableLimits
) -> RawRow:
    if odd:
        column, what = odd[0]
        cells.extend([None] * (max(column for column, _ in odd) - len(cells)))
        for column, what in odd:
            cells[column - 1] = what or None
        return RawRow(number, cells, _odd(odd[0], header, number))
    fault = row_refusal(cells, header, limits)
    if fault is not None:
        column, finding = fault
        return RawRow(number, cells, finding.at(header.place(column, _letters(column + 1) + str(number))))
    del cells[len(header.names) :]
    cells.extend([None] * (len(header.names) - len(cells)))
    return RawRow(number, cells)


def _numbered(
    values: Iterable[list[Any]], first_column: int, seen: ScannedSheet
) -> Iterator[tuple[int, list[Cell]]]:
    """Rows by number; then those that hold no value at all, but an odd cell."""
    number = 0
    before: list[Cell] = [None] * first_column
    for number, row in enumerate(values, start=1):
        yield number, before + [_cell(value) for value in row]
    for odd in sorted(seen.odd):
        if odd > number:
            yield odd, []


def _cell(value: Any) -> Cell:
    match value:
        case "":
            return None
        case str():
            return plain(value)
        case float() if value.is_integer() and abs(value) < _EXACT_WHOLE:
            return int(value)
        case dt.timedelta():
            minutes, seconds = divmod(round(value.total_seconds()), 60)
            return f"{minutes // 60}:{minutes % 60:02}:{seconds:02}"
        case dt.time():
            return value.isoformat()
    return value  # type: ignore[no-any-return]  # the library gives no other kinds


def _odd(odd: tuple[int, str], header: Header, row: int) -> Finding:
    column, what = odd
    place = header.place(column - 1, f"{_letters(column)}{row}")
    if what:
        text, remedy = f"the cell holds the error {what}", "mend its formula, or type the value"
        return Finding("cell-error", text, remedy, place)
    return Finding(
        "formula-without-value",
        "the cell holds a formula whose value the file does not give",
        "open the file in a spreadsheet program and save it, or type the value",
        place,
    )


def _letters(column: int) -> str:
    """Name of a column (from 1) in a spreadsheet program."""
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
