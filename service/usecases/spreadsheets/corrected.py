"""Cells of a file that were put right since it was written: the file stays as it is, its rows are read so."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

from plaitlog.service.usecases.spreadsheets.table import Cell, RawRow, Sheet, Workbook

CorrectedCells = Mapping[int, Mapping[int, str]]
"""By line, and by column from 0, the text that takes the place of a cell."""
Corrections = Mapping[str, CorrectedCells]
"""The same by sheet; the one sheet of a CSV file has no name."""
NO_CORRECTIONS: Final[Corrections] = {}


def corrected(workbook: Workbook, corrections: Corrections) -> Workbook:
    """The workbook as if the corrections stood in it."""
    sheets = [
        Sheet(sheet.name, _rows(sheet.rows, corrections[sheet.name])) if sheet.name in corrections else sheet
        for sheet in workbook.sheets
    ]
    return replace(workbook, sheets=sheets)


def _rows(rows: Iterator[RawRow], corrections: CorrectedCells) -> Iterator[RawRow]:
    for row in rows:
        found = corrections.get(row.number)
        yield row if not found else _row(row, found)


def _row(row: RawRow, texts: Mapping[int, str]) -> RawRow:
    """What kept the row from being taken may be mended now; it is found again where it is not."""
    cells: list[Cell] = [*row.cells, *([""] * (max(texts) + 1 - len(row.cells)))]
    for column, text in texts.items():
        cells[column] = text
    return RawRow(row.number, cells, corrected=True)
