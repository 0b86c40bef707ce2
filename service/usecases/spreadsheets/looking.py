"""A file of tables looked at before it is read: its sheets, their headers, what each column seems to say.

Nothing is refused here: what is not known is asked.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import BinaryIO, Final

from plaitlog.models.errors import Finding
from plaitlog.service.usecases.spreadsheets.catalogue import TABLES
from plaitlog.service.usecases.spreadsheets.column_units import (
    lacks_station_unit,
    same_station_unit,
    with_unit,
)
from plaitlog.service.usecases.spreadsheets.columns import Table
from plaitlog.service.usecases.spreadsheets.headers import StationHeader, bare
from plaitlog.service.usecases.spreadsheets.layout import lay_out, told_table
from plaitlog.service.usecases.spreadsheets.mapped import PASSED_OVER, WHY, Choices, Mapped
from plaitlog.service.usecases.spreadsheets.matching import match_headers
from plaitlog.service.usecases.spreadsheets.one_cell import as_text, is_blank
from plaitlog.service.usecases.spreadsheets.reading import open_table
from plaitlog.service.usecases.spreadsheets.remembered import HeaderMemory, both
from plaitlog.service.usecases.spreadsheets.sheets import NO_CHOICES, find_header, sheet_hint
from plaitlog.service.usecases.spreadsheets.table import RawRow, Sheet

READING: Final = "reading"
"""Key of a notebook's reading column; where it was measured is said apart."""
NOT_KNOWN: Final = ""
_LOOKED_AT: Final = 40
_SAMPLES: Final = 3


@dataclass(frozen=True, slots=True)
class SeenColumn:
    """One column: its header, first values, and what it says.

    Attributes
    ----------
    key : of the table's column, ``READING`` for a reading at a station, "-" passed over, "" not known.
    at : of a reading, the station as it stands.
    unit : of numbers without one, as said or as the header has it; None where their size tells.
    units : what may be chosen; none where the header names its unit, or the column holds no sizes.
    """

    index: int
    header: str
    samples: tuple[str, ...]
    key: str
    at: str = ""
    unit: str | None = None
    units: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SeenSheet:
    """One sheet.

    ``table`` is None where the header does not tell. ``findings`` stand in the way of reading it.
    ``recalled``: something was said about these headers before. ``station_unit`` is that of reading columns
    without one, "" where none is said but needed, None where none is.
    """

    name: str
    table: Table | None
    line: int
    columns: tuple[SeenColumn, ...]
    findings: tuple[Finding, ...]
    recalled: bool
    station_unit: str | None


@dataclass(frozen=True, slots=True)
class SeenFile:
    """``encoding`` and ``delimiter`` of a CSV file, None for a workbook."""

    sheets: tuple[SeenSheet, ...]
    encoding: str | None
    delimiter: str | None


def look_at(
    stream: BinaryIO,
    name: str,
    memory: HeaderMemory,
    *,
    by_sheet: Mapping[str, Choices] = NO_CHOICES,
    encoding: str | None = None,
) -> SeenFile:
    """What a file of tables holds, by its headers and first rows.

    Raises
    ------
    TableError
        Where it cannot be read as a table at all.
    """
    workbook = open_table(stream, name, encoding=encoding)
    sheets = [
        seen
        for sheet in workbook.sheets
        if (seen := _look(sheet, name, by_sheet.get(sheet.name, Choices()), memory)) is not None
    ]
    return SeenFile(tuple(sheets), workbook.encoding, workbook.delimiter)


def _look(sheet: Sheet, name: str, said: Choices, memory: HeaderMemory) -> SeenSheet | None:
    header = find_header(sheet, said, memory)
    if header is None:
        return None
    recalled = memory.recall(header.texts)
    choices = both(said, recalled)
    row = header.row
    hint = sheet_hint(sheet, name)
    below = list(islice(header.below, _LOOKED_AT))
    if row.refusal is not None and (header.first or row.refusal.code == "column-twice"):
        findings: Sequence[Finding] = [row.refusal]
    else:
        laid = lay_out(sheet.name, hint, row.number, header.texts, choices)
        findings = laid if isinstance(laid, list) else _unknown(laid.unknown, below)
    told = told_table(header.texts, hint, choices)
    table = told if isinstance(told, Table) else None
    columns, station_unit = _columns(header.texts, table, choices, below)
    return SeenSheet(
        sheet.name, table, row.number, columns, tuple(findings), recalled is not None, station_unit
    )


def _unknown(unknown: Mapping[int, Finding], below: Sequence[RawRow]) -> list[Finding]:
    """A column without a known name matters where it holds anything."""
    return [finding for index, finding in unknown.items() if _samples(index, below)]


def _columns(
    texts: Sequence[str], table: Table | None, choices: Choices, below: Sequence[RawRow]
) -> tuple[tuple[SeenColumn, ...], str | None]:
    mapped: dict[int, Mapped] = {}
    stations: list[Mapped] = []
    if table is not None:
        found = [with_unit(each, choices) for each in match_headers(texts, table, choices).columns]
        settled = same_station_unit(found)
        mapped = {each.index: each for each in settled}
        stations = [each for each in settled if each.station is not None]
    passed = {bare(header) for header, key in choices.headers.items() if key == PASSED_OVER}
    columns = tuple(
        _column(index, text, mapped.get(index), text and bare(text) in {*passed, bare(WHY)}, choices, below)
        for index, text in enumerate(texts)
        if text or _samples(index, below)
    )
    lacking = [each for each in stations if lacks_station_unit(each)]
    said = choices.units.get("station")
    return columns, said or ("" if lacking else None)


def _column(
    index: int, text: str, mapped: Mapped | None, passed: object, choices: Choices, below: Sequence[RawRow]
) -> SeenColumn:
    samples = _samples(index, below)
    if mapped is None:
        return SeenColumn(index, text, samples, PASSED_OVER if passed or not samples else NOT_KNOWN)
    key = READING if mapped.station is not None else mapped.column.key
    quantity = mapped.column.quantity
    own = mapped.unit is not None and text not in choices.units
    units = () if quantity is None or own else tuple(quantity.units)
    return SeenColumn(index, text, samples, key, _at(mapped.station), mapped.unit, units)


def _at(station: StationHeader | None) -> str:
    if station is None:
        return ""
    if station.place is not None:
        return {"p": "point"}.get(station.place, station.place)
    typed, unit = station.station, station.unit
    return typed if unit is None or unit in typed else f"{typed} {unit}"


def _samples(index: int, below: Sequence[RawRow]) -> tuple[str, ...]:
    filled = (
        as_text(row.cells[index])
        for row in below
        if index < len(row.cells) and not is_blank(row.cells[index])
    )
    return tuple(islice(filled, _SAMPLES))


def kinds_of_tables() -> tuple[Table, ...]:
    """Every kind of table that can be read."""
    return TABLES
