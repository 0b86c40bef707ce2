"""A CSV file opened: encoding and dialect found out, its header read."""

from collections.abc import Iterator
from itertools import chain
from typing import BinaryIO, Final

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.usecases.spreadsheets.csv_dialect import (
    decimal_comma,
    find_dialect,
    stated_delimiter,
)
from plaitlog.service.usecases.spreadsheets.csv_lines import Line, Lines, physical_lines
from plaitlog.service.usecases.spreadsheets.csv_records import records
from plaitlog.service.usecases.spreadsheets.csv_rows import rows
from plaitlog.service.usecases.spreadsheets.encoding import find_encoding
from plaitlog.service.usecases.spreadsheets.table import RawRow, Sheet, TableLimits, Workbook

_SAMPLE_LINES: Final = 100
_SAMPLE_CHARACTERS: Final = 300_000


def open_csv(stream: BinaryIO, limits: TableLimits, stated_encoding: str | None = None) -> Workbook:
    """A seekable stream as a workbook of one sheet.

    Raises
    ------
    TableError
        Where the header cannot serve or there is none; while the rows are read, where there are too many.
    """
    encoding = find_encoding(stream, stated_encoding)
    lines = Lines(physical_lines(stream, encoding, limits.line_characters))
    first = next(lines, None)
    delimiter = stated_delimiter(first.text) if first is not None else None
    if first is not None and delimiter is None:
        lines.put_back([first])
    sample = _sample(lines)
    dialect = find_dialect(sample, encoding.name, limits, delimiter)
    begun = [record.cells for record in records(Lines(sample), dialect, limits)]
    found = rows(lines, dialect, limits)
    header = next(found, None)
    if header is None:
        raise TableError(Finding("empty", "the file holds no table", "save the spreadsheet again"))
    return Workbook(
        kind="csv",
        encoding=encoding.name,
        delimiter=dialect.delimiter,
        decimal_comma=decimal_comma(begun),
        sheets=[Sheet("", _with(header, found))],
        findings=[encoding.finding] if encoding.finding is not None else [],
    )


def _with(header: RawRow, others: Iterator[RawRow]) -> Iterator[RawRow]:
    return chain([header], others)


def _sample(lines: Lines) -> list[Line]:
    """The first lines, put back."""
    looked_at: list[Line] = []
    size = 0
    for line in lines:
        looked_at.append(line)
        size += len(line.text)
        if len(looked_at) >= _SAMPLE_LINES or size > _SAMPLE_CHARACTERS:
            break
    lines.put_back(looked_at)
    return [line for line in looked_at if not line.too_long]
