"""Rows as xlsx: row by row in constant memory, the same bytes for the same rows."""

import datetime as dt
from collections.abc import Iterable, Sequence
from math import isfinite
from pathlib import Path
from typing import Any, BinaryIO, Final

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.usecases.spreadsheets.neutral import neutral
from plaitlog.service.usecases.spreadsheets.table import Cell

CELL_CHARACTERS: Final = 32_767
ROWS: Final = 1_048_576
_CREATED: Final = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)  # a fixed time: the same rows give the same file
_FIRST_DAY: Final = dt.date(1900, 3, 1)  # before it spreadsheet programs do not agree on the calendar
_OPTIONS: Final = {
    "constant_memory": True,
    "strings_to_formulas": False,
    "strings_to_numbers": False,
    "strings_to_urls": False,
}


def write_xlsx(target: Path | BinaryIO, sheets: Iterable[tuple[str, Iterable[Sequence[Cell]]]]) -> None:
    """Sheets by name, each with its header first; texts stay texts, numbers keep every digit.

    Raises
    ------
    TableError
        For a text that is longer than a cell can hold or has a character that XML has not, or more rows than
        a sheet can hold.
    ValueError
        For a number that is not finite.
    """
    from xlsxwriter import Workbook

    with Workbook(str(target) if isinstance(target, Path) else target, _OPTIONS) as book:
        book.set_properties({"created": _CREATED})
        formats: dict[type, Any] = {
            dt.date: book.add_format({"num_format": "yyyy-mm-dd"}),
            dt.datetime: book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}),
        }
        for name, rows in sheets:
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            for number, row in enumerate(rows):
                if number >= ROWS:
                    raise TableError(_too_many_rows(name))
                for column, cell in enumerate(row):
                    _write(sheet, number, column, cell, formats)


class _Exact(float):
    """A number that is written with all the digits it needs; the library would round to 16."""

    def __format__(self, specification: str) -> str:
        return repr(float(self))


def _write(sheet: Any, row: int, column: int, cell: Cell, formats: dict[type, Any]) -> None:
    match cell:
        case None:
            return
        case bool():
            sheet.write_boolean(row, column, cell)
        case int() if int(float(cell)) != cell:
            sheet.write_string(row, column, str(cell))
        case int() | float():
            if not isfinite(cell):
                raise ValueError(f"{cell} cannot stand in a table")
            sheet.write_number(row, column, _Exact(cell))
        case dt.datetime() | dt.date() if _on_the_calendar(cell):
            sheet.write_datetime(row, column, cell, formats[type(cell)])
        case dt.datetime() | dt.date():
            sheet.write_string(row, column, cell.isoformat())
        case _:
            text = neutral(cell)
            if len(text) > CELL_CHARACTERS:
                raise TableError(_too_long(text))
            if "\ufffe" in text or "\uffff" in text:
                raise TableError(_no_character(text))
            sheet.write_string(row, column, text)


def _on_the_calendar(day: dt.date | dt.datetime) -> bool:
    return (day.date() if isinstance(day, dt.datetime) else day) >= _FIRST_DAY


def _too_many_rows(name: str) -> Finding:
    text = f"the sheet {name!r} would have more than {ROWS} rows"
    return Finding("too-many-rows", text, "export as CSV or JSON Lines")


def _no_character(text: str) -> Finding:
    text = f"{text[:40]!r} holds U+FFFE or U+FFFF, which an xlsx file cannot"
    return Finding("not-text", text, "take it out, or export as CSV or JSON Lines")


def _too_long(text: str) -> Finding:
    return Finding(
        "cell-too-long",
        f"{text[:40]!r}... has {len(text)} characters; a cell of an xlsx file holds {CELL_CHARACTERS}",
        "export as CSV or JSON Lines",
    )
