"""Exports: everything out again, so that an import takes it back without loss."""

from typing import Annotated, Any

from fastapi import Path
from fastapi.responses import StreamingResponse

from plaitlog.service import exports
from plaitlog.service.api.bodies import CSV, JSON_LINES, XLSX
from plaitlog.service.api.documented import failing, router
from plaitlog.service.api.parameters import Database

routes = router("exports")


class Lines(StreamingResponse):
    media_type = JSON_LINES[0]


class Csv(StreamingResponse):
    media_type = CSV


class Workbook(StreamingResponse):
    media_type = XLSX


def _answers(media: str, description: str, *failures: int) -> dict[int | str, dict[str, Any]]:
    content = {media: {"schema": {"type": "string"}}}
    return {200: {"description": description, "content": content}, **failing(*failures)}


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
    return Lines(exports.lines(database), headers=exports.attached("records.jsonl"))


@routes.get(
    "/workshop.xlsx",
    summary="Export every table as xlsx",
    response_class=Workbook,
    responses=_answers(XLSX, "Every table as a sheet of one file."),
)
def workshop(database: Database) -> StreamingResponse:
    """Every table as a sheet; cells that a spreadsheet would take for formulas are neutral."""
    return Workbook(exports.workbook(database), headers=exports.attached("workshop.xlsx"))


@routes.get(
    "/tables/{table}",
    summary="Export one table as CSV",
    response_class=Csv,
    responses=_answers(CSV, "The table, its header first; sizes in mm, weights in g, metres in m.", 404),
)
def one_table(
    database: Database,
    table: Annotated[
        str, Path(description="Name of the table.", json_schema_extra={"enum": list(exports.KNOWN)})
    ],
) -> StreamingResponse:
    """One table as CSV in UTF-8; cells that a spreadsheet would take for formulas are neutral."""
    return Csv(exports.table(database, table), headers=exports.attached(f"{table}.csv"))
