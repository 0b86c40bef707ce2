"""Records of a CSV file: Python's csv module reads them, strictly; this module keeps one fault to one record.

A quote that is never closed would swallow the rest of the file, and one that is closed in the wrong place
two rows. So where a row that goes over several lines turns out wrong, its first line alone is refused, and
reading begins anew at the line after it.
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.service.schemas.values import shown
from plaitlog.service.usecases.spreadsheets.csv_lines import Line, Lines
from plaitlog.service.usecases.spreadsheets.csv_quotes import quote_fault
from plaitlog.service.usecases.spreadsheets.table import TableLimits

_PATIENCE: Final = 1_000_000
"""Lines that may be read in vain after quotes that are not closed; beyond that a row is one line."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """How the file is written."""

    encoding: str
    delimiter: str
    blanks_before_quotes: bool


@dataclass(frozen=True, slots=True)
class Record:
    """One row by the rules of CSV, or one line that follows none.

    ``fault`` is (column from 0, why); ``goes_on`` where the row was meant to go over several lines.
    """

    lines: list[Line]
    cells: list[str]
    fault: tuple[int, Finding] | None = None
    goes_on: bool = False


def records(lines: Lines, dialect: Dialect, limits: TableLimits) -> Iterator[Record]:
    """Every record, also blank ones."""
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
            yield Record(feed.taken, cells)


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


def _faulty(feed: _Feed, dialect: Dialect, limits: TableLimits) -> Record:
    line, *others = feed.put_back_all_but_the_first()
    if line.too_long:
        finding = Finding(
            "line-too-long",
            f"the line is longer than {limits.line_characters} characters ({shown(line.text[:40])}...)",
            "shorten it, or divide it into several rows",
        )
        cells = next(csv.reader([line.text], delimiter=dialect.delimiter), [""])
        longest = max(range(len(cells)), key=lambda column: len(cells[column]))
        return Record([replace(line, text="")], [], (longest, finding))
    column, finding = quote_fault(line.text, dialect.delimiter, dialect.blanks_before_quotes)
    text = line.text.rstrip("\r\n")
    cells = next(csv.reader([text], delimiter=dialect.delimiter), [])
    return Record([line], cells, (column, finding), bool(others))
