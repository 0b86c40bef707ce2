"""Rejected rows as a file of the same make, with a column in front that says why, to be mended."""

import codecs
import csv
import io
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.usecases.import_report import RejectedRow
from plaitlog.service.usecases.spreadsheets.mapped import WHY
from plaitlog.service.usecases.spreadsheets.neutral import neutral
from plaitlog.service.usecases.spreadsheets.one_cell import as_text
from plaitlog.service.usecases.spreadsheets.sheets import FoundTables
from plaitlog.service.usecases.spreadsheets.staging import Staging
from plaitlog.service.usecases.spreadsheets.table import Workbook
from plaitlog.service.usecases.spreadsheets.writing import write_xlsx
from plaitlog.service.usecases.spreadsheets.xlsx_writing import CELL_CHARACTERS

_MARKS: Final = {"utf-16-le": codecs.BOM_UTF16_LE, "utf-16-be": codecs.BOM_UTF16_BE, "utf-8": codecs.BOM_UTF8}
_WHY_AT_MOST: Final = 2000


def rejected_rows(tables: FoundTables, staging: Staging) -> Iterator[RejectedRow]:
    """The rejected rows with their cells as text, sheet by sheet."""
    for number, sheet in enumerate(tables.sheets):
        headers = sheet.layout.headers
        for row, findings in staging.refused(number):
            cells = tuple("" if cell is None else as_text(cell) for cell in row.cells)
            yield RejectedRow(sheet.name, row.line, headers, cells, tuple(findings))


def write_rejected(target: Path | BinaryIO, workbook: Workbook, tables: FoundTables, staging: Staging) -> int:
    """Write the rejected rows as they stood; gives their number. Without any, nothing is written."""
    number = staging.refused_rows()
    if number == 0:
        return 0
    if isinstance(target, Path):
        try:
            with target.open("wb") as stream:
                _write(stream, workbook, tables, staging)
        except OSError as error:
            raise InputError(
                Finding(
                    "file-unwritable",
                    f"{target} cannot be written: {error.strerror}",
                    "check folder and room",
                )
            ) from error
    else:
        _write(target, workbook, tables, staging)
    return number


def _write(stream: BinaryIO, workbook: Workbook, tables: FoundTables, staging: Staging) -> None:
    if workbook.kind == "xlsx":
        sheets = (
            (sheet.name, rows)
            for number, sheet in enumerate(tables.sheets)
            if (rows := _with_header(sheet.layout.headers, number, staging)) is not None
        )
        write_xlsx(stream, ((name, _fitting(rows)) for name, rows in sheets))
        return
    encoding = workbook.encoding or "utf-8"
    stream.write(_MARKS.get(encoding, b""))
    for row in _with_header(tables.sheets[0].layout.headers, 0, staging) or iter(()):
        text = io.StringIO()
        csv.writer(text, delimiter=workbook.delimiter or ",", lineterminator="\r\n").writerow(
            [neutral(str(cell)) for cell in row]
        )
        stream.write(_encoded(text.getvalue(), encoding))


def _encoded(text: str, encoding: str) -> bytes:
    """Bytes that could not be decoded are given back as they were."""
    try:
        return text.encode(encoding, "surrogateescape")
    except UnicodeEncodeError:
        return text.encode(encoding, "replace")


def _with_header(headers: tuple[str, ...], sheet: int, staging: Staging) -> Iterator[list[Any]] | None:
    found = staging.refused(sheet)
    first = next(found, None)
    if first is None:
        return None

    def rows() -> Iterator[list[Any]]:
        told = [i for i, header in enumerate(headers) if header != WHY]
        yield [WHY, *(headers[i] for i in told)]
        for row, findings in chain([first], found):
            cells = [row.cells[i] if i < len(row.cells) else "" for i in told]
            beyond = row.cells[len(headers) :]
            yield ["; ".join(map(str, findings))[:_WHY_AT_MOST], *cells, *beyond]

    return rows()


def _fitting(rows: Iterator[list[Any]]) -> Iterator[list[Any]]:
    """Cells of an xlsx file hold so many characters, and no halves of surrogate pairs."""
    for row in rows:
        yield [
            cell.encode("utf-8", "replace").decode()[: CELL_CHARACTERS - 1] if isinstance(cell, str) else cell
            for cell in row
        ]
