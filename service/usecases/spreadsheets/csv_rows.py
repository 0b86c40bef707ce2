"""The rows of a CSV file: Python's csv module reads them, strictly; this module keeps one fault to one row.

A quote that is never closed would swallow the rest of the file, and one that is closed in the wrong place
two rows. So where a row that goes over several lines turns out wrong, its first line alone is refused, and
reading begins anew at the line after it.
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.schemas.values import shown
from plaitlog.service.usecases.spreadsheets.csv_lines import Line, Lines
from plaitlog.service.usecases.spreadsheets.csv_quotes import quote_fault
from plaitlog.service.usecases.spreadsheets.encoding import UNDECODABLE, undecodable
from plaitlog.service.usecases.spreadsheets.headed import (
    Header,
    header_of,
    header_refusal,
    is_blank,
    row_refusal,
)
from plaitlog.service.usecases.spreadsheets.neutral import plain
from plaitlog.service.usecases.spreadsheets.table import RawRow, TableLimits

_PATIENCE: Final = 1_000_000
"""Lines that may be read in vain after quotes that are not closed; beyond that a row is one line."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """How the file is written."""

    encoding: str
    delimiter: str
    blanks_before_quotes: bool


@dataclass(frozen=True, slots=True)
class _Record:
    """One row by the rules of CSV, or one line that follows none.

    ``fault`` is (column from 0, why); ``goes_on`` where the row was meant to go over several lines.
    """

    lines: list[Line]
    cells: list[str]
    fault: tuple[int, Finding] | None = None
    goes_on: bool = False


def rows(lines: Lines, dialect: Dialect, limits: TableLimits) -> Iterator[RawRow]:
    """Header and rows.

    Raises
    ------
    TableError
        Where the header cannot serve, or there are more rows than the limit.
    """
    header: Header | None = None
    count = faulty_line = doubtful_to = 0
    for record in _records(lines, dialect, limits):
        if record.fault is None and is_blank(record.cells):
            continue
        number = record.lines[0].number
        if header is None:
            header = _checked_header(record, dialect, limits)
            yield RawRow(number, list(header.names))
            continue
        count += 1
        if count > limits.rows:
            raise TableError(_too_many_rows(limits).at(f"line {number}"))
        if record.fault is None and len(record.cells) >= len(header.names):
            doubtful_to = 0
        elif record.fault is None and number <= doubtful_to:
            missing = len(record.cells)
            rest = _perhaps_a_rest(shown(record.cells[0]), faulty_line)
            record = replace(record, fault=(missing, rest))
        yield _row(record, header, dialect, limits)
        if record.goes_on:
            faulty_line, doubtful_to = number, number + limits.row_lines


def _row(record: _Record, header: Header, dialect: Dialect, limits: TableLimits) -> RawRow:
    number = record.lines[0].number
    if (wrong := _undecodable(record, dialect)) is not None:
        cells = [UNDECODABLE.sub("�", cell) for cell in record.cells]
        column = next((k for k, cell in enumerate(record.cells) if UNDECODABLE.search(cell)), None)
        place = "" if column is None else header.place(column)
        return RawRow(number, [plain(cell) for cell in cells], replace(wrong, where=place))
    cells = [plain(cell) for cell in record.cells]
    fault = record.fault or row_refusal(cells, header, limits)
    if fault is not None:
        column, finding = fault
        return RawRow(number, list(cells), finding.at(header.place(column)))
    del cells[len(header.names) :]
    cells.extend([""] * (len(header.names) - len(cells)))
    return RawRow(number, list(cells))


def _checked_header(record: _Record, dialect: Dialect, limits: TableLimits) -> Header:
    header = header_of([plain(cell) for cell in record.cells])
    wrong = record.fault[1] if record.fault else _undecodable(record, dialect)
    wrong = wrong or header_refusal(header, limits)
    if wrong is not None:
        raise TableError(wrong.at(f"line {record.lines[0].number}"))
    return header


def _undecodable(record: _Record, dialect: Dialect) -> Finding | None:
    for line in record.lines:
        if (wrong := undecodable(line.text, dialect.encoding)) is not None:
            if line is record.lines[0]:
                return wrong
            return replace(wrong, text=f"line {line.number}: {wrong.text}")
    return None


def _records(lines: Lines, dialect: Dialect, limits: TableLimits) -> Iterator[_Record]:
    feed = _Feed(lines, limits)
    reader = csv.reader(
        feed,
        delimiter=dialect.delimiter,
        strict=True,
        skipinitialspace=dialect.blanks_before_quotes,
    )
    while True:
        feed.taken = []
        try:
            cells = next(reader)
        except StopIteration:
            return
        except (csv.Error, _CannotBeOneRowError):
            yield _faulty(feed, dialect, limits)
        else:
            yield _Record(feed.taken, cells)


class _CannotBeOneRowError(Exception):
    pass


class _Feed:
    """Gives the csv module one line after the other, and keeps those of the row it is at."""

    def __init__(self, lines: Lines, limits: TableLimits) -> None:
        self._lines = lines
        self._limits = limits
        self._in_vain = 0
        self.taken: list[Line] = []

    def __iter__(self) -> "_Feed":
        return self

    def __next__(self) -> str:
        line = next(self._lines)
        self.taken.append(line)
        at_most = self._limits.row_lines if self._in_vain < _PATIENCE else 1
        if line.too_long or (
            len(self.taken) > 1
            and (
                len(self.taken) > at_most
                or sum(len(taken.text) for taken in self.taken) > self._limits.line_characters
            )
        ):
            raise _CannotBeOneRowError
        return line.text

    def put_back_all_but_the_first(self) -> list[Line]:
        """The lines of the row, of which the first alone has been read now."""
        others = self.taken[1:]
        self._in_vain += len(others)
        self._lines.put_back(others)
        return self.taken


def _faulty(feed: _Feed, dialect: Dialect, limits: TableLimits) -> _Record:
    line, *others = feed.put_back_all_but_the_first()
    if line.too_long:
        finding = Finding(
            "line-too-long",
            f"the line is longer than {limits.line_characters} characters ({shown(line.text[:40])}...)",
            "shorten it, or divide it into several rows",
        )
        cells = next(csv.reader([line.text], delimiter=dialect.delimiter), [""])
        longest = max(range(len(cells)), key=lambda column: len(cells[column]))
        return _Record([replace(line, text="")], [], (longest, finding))
    column, finding = quote_fault(line.text, dialect.delimiter, dialect.blanks_before_quotes)
    text = line.text.rstrip("\r\n")
    cells = next(csv.reader([text], delimiter=dialect.delimiter), [])
    return _Record([line], cells, (column, finding), bool(others))


def _perhaps_a_rest(value: str, line: int) -> Finding:
    return Finding(
        "perhaps-a-rest",
        f"the row ({value} ...) ends before this column; it may be the rest of the row on line {line}",
        f"mend line {line} first",
    )


def _too_many_rows(limits: TableLimits) -> Finding:
    return Finding(
        "too-many-rows",
        f"the table has more than {limits.rows} rows",
        "divide it into several files",
    )
