"""Exports: everything out again, so that an import takes it back without loss."""

import tempfile
from collections.abc import Iterator
from itertools import chain
from typing import Annotated, Any, BinaryIO, Final, cast

from fastapi import Path
from fastapi.responses import StreamingResponse
from sqlalchemy import Engine

from plaitlog.models.errors import Finding, NotFoundError, nearest_or
from plaitlog.service.api.bodies import CSV, IN_MEMORY_BYTES, JSON_LINES, XLSX
from plaitlog.service.api.documented import failing, router
from plaitlog.service.api.parameters import Database
from plaitlog.service.database import reading
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.spreadsheets.catalogue import NOTEBOOK, TABLES
from plaitlog.service.usecases.spreadsheets.columns import Table

routes = router("exports")
NAMES: Final = {table.name.replace(" ", "-"): table for table in TABLES}
"""Tables by their name in an address."""
PIECE_BYTES: Final = 65_536


class Lines(StreamingResponse):
    media_type = JSON_LINES[0]


class Csv(StreamingResponse):
    media_type = CSV


class Workbook(StreamingResponse):
    media_type = XLSX


def _answers(media: str, description: str, *failures: int) -> dict[int | str, dict[str, Any]]:
    content = {media: {"schema": {"type": "string"}}}
    return {200: {"description": description, "content": content}, **failing(*failures)}


def _named(file: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{file}"'}


@routes.get(
    "/records.jsonl",
    summary="Export every record",
    response_class=Lines,
    responses=_answers(
        JSON_LINES[0], "Every record, one a line: makers, cords, stock, whips, rating sessions."
    ),
)
def records(database: Database) -> StreamingResponse:
    """Every record as one line of JSON; the state is that of one moment."""
    return Lines(_begun(_lines(database)), headers=_named("records.jsonl"))


@routes.get(
    "/workshop.xlsx",
    summary="Export every table as xlsx",
    response_class=Workbook,
    responses=_answers(XLSX, "Every table as a sheet of one file."),
)
def workshop(database: Database) -> StreamingResponse:
    """Every table as a sheet; cells that a spreadsheet would take for formulas are neutral."""
    from plaitlog.service.usecases.spreadsheets.exporting import export_xlsx

    stream = cast("BinaryIO", tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES))  # noqa: SIM115
    try:
        with reading(database) as session:
            export_xlsx(session, stream)
    except BaseException:
        stream.close()
        raise
    stream.seek(0)
    return Workbook(_pieces(stream), headers=_named("workshop.xlsx"))


@routes.get(
    "/tables/{table}",
    summary="Export one table as CSV",
    response_class=Csv,
    responses=_answers(CSV, "The table, its header first; sizes in mm, weights in g, metres in m.", 404),
)
def one_table(
    database: Database,
    table: Annotated[
        str, Path(description="Name of the table.", json_schema_extra={"enum": [*NAMES, NOTEBOOK[0]]})
    ],
) -> StreamingResponse:
    """One table as CSV in UTF-8; cells that a spreadsheet would take for formulas are neutral."""
    found = NAMES.get(table)
    if table == NOTEBOOK[0]:
        return Csv(_begun(_notebook(database)), headers=_named("notebook.csv"))
    if found is None:
        known = [*NAMES, NOTEBOOK[0]]
        remedy = nearest_or(table, known, f"there are {', '.join(known)}")
        raise NotFoundError(Finding("table-not-found", f"there is no table {table!r}", remedy))
    return Csv(_begun(_rows(database, found)), headers=_named(f"{table}.csv"))


def _begun(parts: Iterator[bytes]) -> Iterator[bytes]:
    """The same parts; what cannot be done is found out before the answer begins."""
    return chain([next(parts, b"")], parts)


def _lines(database: Engine) -> Iterator[bytes]:
    with reading(database) as session:
        yield from export_lines(session)


def _rows(database: Engine, table: Table) -> Iterator[bytes]:
    from plaitlog.service.usecases.spreadsheets.exporting import export_csv

    with reading(database) as session:
        yield from export_csv(session, table)


def _notebook(database: Engine) -> Iterator[bytes]:
    from plaitlog.service.usecases.spreadsheets.notebook import notebook_of, notebook_rows
    from plaitlog.service.usecases.spreadsheets.writing import write_csv

    with reading(database) as session:
        yield from write_csv(notebook_rows(session, notebook_of(session)))


def _pieces(stream: BinaryIO) -> Iterator[bytes]:
    with stream:
        while piece := stream.read(PIECE_BYTES):
            yield piece
