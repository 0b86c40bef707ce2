"""The rows of a CSV file, under its header."""

from collections.abc import Iterator
from dataclasses import replace

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.schemas.values import shown
from plaitlog.service.usecases.spreadsheets.csv_lines import Lines
from plaitlog.service.usecases.spreadsheets.csv_records import Dialect, Record, records
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


def rows(lines: Lines, dialect: Dialect, limits: TableLimits) -> Iterator[RawRow]:
    """Header and rows.

    Raises
    ------
    TableError
        Where the header cannot serve, or there are more rows than the limit.
    """
    header: Header | None = None
    count = faulty_line = doubtful_to = 0
    for record in records(lines, dialect, limits):
        if record.fault is None and is_blank([plain(cell) for cell in record.cells]):
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


def _row(record: Record, header: Header, dialect: Dialect, limits: TableLimits) -> RawRow:
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


def _checked_header(record: Record, dialect: Dialect, limits: TableLimits) -> Header:
    header = header_of([plain(cell) for cell in record.cells])
    wrong = record.fault[1] if record.fault else _undecodable(record, dialect)
    wrong = wrong or header_refusal(header, limits)
    if wrong is not None:
        raise TableError(wrong.at(f"line {record.lines[0].number}"))
    return header


def _undecodable(record: Record, dialect: Dialect) -> Finding | None:
    for line in record.lines:
        if (wrong := undecodable(line.text, dialect.encoding)) is not None:
            if line is record.lines[0]:
                return wrong
            return replace(wrong, text=f"line {line.number}: {wrong.text}")
    return None


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
