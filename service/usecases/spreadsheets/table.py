"""What a spreadsheet is here, whatever file it came in: sheets of rows of cells, read in a stream.

The first row of a sheet is its header: the first row that holds anything. Where a header of an xlsx sheet
cannot serve (a name twice), the row carries its refusal and nothing below it can be taken; the header of
a CSV file is refused as the whole file is, with a TableError. A row after it has as many cells as the header,
or it carries a refusal. Rows that hold nothing are no rows: they are passed over and never counted.
"""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from plaitlog.models.errors import Finding

Cell = str | float | int | bool | dt.date | dt.datetime | None
"""CSV has texts alone, '' where a cell is empty; in xlsx an empty cell is None."""


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row as it stands.

    Attributes
    ----------
    number : line in the file on which the row begins (CSV), or row of the sheet (xlsx); from 1.
    cells : as many as the header has; where the row is refused, what could be read of it, in any number.
    refusal : the first thing that keeps the row from being taken, None for a sound row. Its ``where`` is the
        column.
    corrected : whether cells of it were put right since the file was written.
    """

    number: int
    cells: list[Cell]
    refusal: Finding | None = None
    corrected: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table: the header, then the rows; to be gone through once, front to back.

    ``name`` is empty for CSV, which has one sheet.
    """

    name: str
    rows: Iterator[RawRow]


@dataclass(frozen=True, slots=True)
class Workbook:
    """A file opened as tables.

    Attributes
    ----------
    encoding, delimiter : of a CSV file; None for xlsx.
    decimal_comma : whether the first rows of a CSV file write 12,5 or 12.5; None where they do not tell,
        and for xlsx.
    findings : what the maker should know about the file as a whole.
    """

    kind: Literal["csv", "xlsx"]
    encoding: str | None
    delimiter: str | None
    decimal_comma: bool | None
    sheets: list[Sheet]
    findings: list[Finding] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class TableLimits:
    """How large a file may be; what is larger is refused before it fills the memory.

    Attributes
    ----------
    file_bytes : of a CSV file, which is read in a stream.
    rows : of one sheet.
    columns : of one sheet; the widest table of a notebook has some thirty.
    cell_characters : as many as one cell of a spreadsheet program can hold.
    line_characters : of a row of a CSV file, the length to which Python's csv module also holds a cell.
    row_lines : line breaks that the quoted cells of one row may hold.
    """

    file_bytes: int = 200_000_000
    rows: int = 2_000_000
    columns: int = 500
    cell_characters: int = 32_767
    line_characters: int = 131_072
    row_lines: int = 100


DEFAULT_LIMITS: Final = TableLimits()
