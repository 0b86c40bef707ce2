"""Export of the whole workshop as tables that an import takes back.

Every table has its columns in fixed order with the unit in the header; a size stands as a number in mm or g
and, where it was typed, as text beside it. What a cell cannot hold: an own rating without any score, and a
text longer than a cell of a spreadsheet (32 767 characters).
"""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, BinaryIO

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, nearest_or
from plaitlog.models.whip import Layer, Whip
from plaitlog.service.usecases.exporting import export_records
from plaitlog.service.usecases.spreadsheets.catalogue import (
    CORD_USED,
    CORDS,
    LAYERS,
    MAKERS,
    RATINGS,
    READINGS,
    STOCK,
    TABLES,
    TURN_LENGTHS,
    WEIGHINGS,
    WHIPS,
    table_named,
)
from plaitlog.service.usecases.spreadsheets.cells import header, row
from plaitlog.service.usecases.spreadsheets.columns import Table
from plaitlog.service.usecases.spreadsheets.layer_lines import lines_of
from plaitlog.service.usecases.spreadsheets.table import Cell
from plaitlog.service.usecases.spreadsheets.writing import write_csv, write_xlsx
from plaitlog.service.usecases.to_records import whip_record
from plaitlog.service.usecases.workshop import whips

Record = dict[str, Any]
_OF_WHIPS = {
    TURN_LENGTHS.name: "turn_lengths",
    WEIGHINGS.name: "weights",
    CORD_USED.name: "cord_used",
    READINGS.name: "readings",
}
_PLAIN = {MAKERS.name: "maker", CORDS.name: "cord", STOCK.name: "stock", WHIPS.name: "whip"}


def export_table(session: Session, table: Table) -> Iterator[Sequence[Cell]]:
    """The rows of one table, its header first."""
    yield header(table)
    for record in _records(session, table):
        yield row(table, record)


def export_csv(session: Session, table: Table) -> Iterator[bytes]:
    """One table as a CSV file, in pieces."""
    return write_csv(export_table(session, table))


def export_xlsx(session: Session, target: Path | BinaryIO) -> None:
    """Every table as a sheet of one file."""
    write_xlsx(target, ((sheet_name(table), export_table(session, table)) for table in TABLES))


def sheet_name(table: Table) -> str:
    return table.name.capitalize()


def file_name(table: Table) -> str:
    """Name of a table's file in a folder of CSV files."""
    return f"{table.name.replace(' ', '-')}.csv"


def chosen_table(name: str) -> Table:
    """The table of that name.

    Raises
    ------
    InputError
        With the nearest name.
    """
    table = table_named(name)
    if table is None:
        names = [each.name for each in TABLES]
        remedy = nearest_or(name, names, f"known are {', '.join(names)}")
        raise InputError(Finding("table-unknown", f"{name!r} is no kind of table", remedy, "--table"))
    return table


def _records(session: Session, table: Table) -> Iterable[Record]:
    if table.name in _PLAIN:
        kind = _PLAIN[table.name]
        return (record for record in export_records(session) if record["kind"] == kind)
    if table is RATINGS:
        return (record for record in export_records(session) if record["kind"] == "rating")
    return _parts(session, table)


def _parts(session: Session, table: Table) -> Iterator[Record]:
    for whip in whips(session):
        if table is LAYERS:
            yield from _layers(whip)
        else:
            for part in whip_record(whip).get(_OF_WHIPS[table.name], []):
                yield {"whip": whip.label, **part}


def _layers(whip: Whip) -> Iterator[Record]:
    lines = lines_of(whip_record(whip), whip.layers, whip.point_mm)
    for number, (line, layer) in enumerate(zip(lines, whip.layers, strict=True), start=1):
        cords = line.get("cord", line.get("cords"))
        yield {"whip": whip.label, "position": number, "cords": cords, "letters": _letters(layer), **line}


def _letters(layer: Layer) -> list[str] | None:
    letters = [cord.letter for cord in layer.cords if cord.letter is not None]
    return letters if letters and len(letters) == len(layer.cords) else None
