"""Imports: a file of records or a table in, all of it or nothing, or what is sound of it."""

from typing import Annotated, Any, Final, Literal

from fastapi import Query
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.api.answers import Answer, remarks
from plaitlog.service.api.bodies import JSON_LINES, UPLOADS, XLSX, Upload, UploadedFile
from plaitlog.service.api.documented import BODY, answers, router
from plaitlog.service.api.parameters import Database, Filter, Limits, Names, filter_by
from plaitlog.service.database import reading, write
from plaitlog.service.schemas.calculated import ImportOut
from plaitlog.service.settings import Settings
from plaitlog.service.usecases.import_report import ImportReport, RowOutcome
from plaitlog.service.usecases.importing import import_lines
from plaitlog.service.usecases.listing import latest_change

ROWS_LISTED: Final = 1_000

routes = router("imports")


def _content() -> dict[str, Any]:
    """Any bytes: what they hold is told row by row."""
    content: dict[str, dict[str, Any]] = {media: {"schema": {}} for media in UPLOADS}
    for media in JSON_LINES:
        content[media]["examples"] = {"maker": {"value": '{"kind":"maker","name":"Orrin"}\n'}}
    table = "whip,maker,thong length,D0,D12,D24\n2026-020,Orrin,6 ft,18 mm,16.5 mm,15 mm\n"
    content["text/csv"]["examples"] = {"notebook": {"value": table}}
    return {"requestBody": {"required": True, "content": content}}


@routes.post(
    "",
    summary="Import a file",
    responses=answers(ImportOut, "What became of each row.", 404, *BODY),
    openapi_extra=_content(),
)
def import_file(
    database: Database,
    limits: Limits,
    file: UploadedFile,
    dry_run: Annotated[bool, Query(description="Say what each row would do, and write nothing.")] = False,
    partial: Annotated[
        bool, Query(description="Take what is sound; else one rejected row keeps all others out.")
    ] = False,
    source: Annotated[Filter, filter_by("Name of the file, kept in the history.")] = None,
    table: Annotated[Filter, filter_by("Kind of table, where the header fits several.")] = None,
    mapping: Annotated[
        Names, Query(alias="map", description="HEADER=KEY: what a column is; HEADER=- passes it over.")
    ] = None,
    units: Annotated[
        Names, Query(description="SIZE=UNIT: unit of bare numbers, such as diameter=mm or station=in.")
    ] = None,
    sheet: Annotated[Names, Query(description="Name of a sheet to read; all without it.")] = None,
    decimal: Annotated[
        Literal["comma", "point"] | None, Query(description="The decimal mark, where the file tells not.")
    ] = None,
    encoding: Annotated[Filter, filter_by("Encoding of a CSV file, where it is guessed wrongly.")] = None,
) -> Answer:
    """Take JSON Lines, or a table as CSV or xlsx, into the workshop. The same file twice changes nothing.

    Any row that is rejected refuses the whole file (422), with up to 100 findings, unless the import is
    partial. A dry run lists them. The parameters from `table` on are for tables alone.
    """
    is_table = file.content_type not in JSON_LINES
    of_table = {
        "table": table,
        "mapping": _pairs(mapping, "map"),
        "units": _pairs(units, "units"),
        "sheets": sheet or (),
        "decimal": decimal,
        "encoding": encoding,
    }
    if not is_table and (given := [key for key, value in of_table.items() if value]):
        text = f"{', '.join(given)}: lines of JSON have no such thing"
        raise InputError(Finding("not-a-table", text, "leave it out, or send a table", "query"))

    def work(session: Session) -> tuple[ImportReport, int | None]:
        before = latest_change(session)
        how = {"source": source, "dry_run": dry_run, "partial": partial}
        report = _table(session, file, how, of_table) if is_table else _lines(session, file, how, limits)
        after = latest_change(session)
        return report, None if after == before else after

    if dry_run and not is_table:
        with reading(database) as session:
            report, change = work(session)
    else:  # a table is tried out and taken back
        report, change = write(database, work)
    return Answer(report_json(report, change))


def _lines(session: Session, file: Upload, how: dict[str, Any], limits: Settings) -> ImportReport:
    file.stream.seek(0)  # the whole transaction may be tried again
    limit = limits.line_limit_bytes
    return import_lines(
        session, file.stream, line_limit_bytes=limit, size_bytes=file.size_bytes, rejects=None, **how
    )


def _table(session: Session, file: Upload, how: dict[str, Any], of_table: dict[str, Any]) -> ImportReport:
    from plaitlog.service.usecases.spreadsheets.importing import import_table

    file.stream.seek(0)
    name = how.pop("source") or ("table.xlsx" if file.content_type == XLSX else "table.csv")
    return import_table(session, file.stream, name, size_bytes=file.size_bytes, **how, **of_table)


def _pairs(texts: list[str] | None, parameter: str) -> dict[str, str]:
    found = {}
    for text in texts or ():
        name, equals, value = text.rpartition("=")
        if not equals or not name.strip() or not value.strip():
            where = f"query, {parameter}"
            raise InputError(Finding("pair", f"{text!r} has no = between two names", "write A=B", where))
        found[name.strip()] = value.strip()
    return found


def report_json(report: ImportReport, change: int | None) -> dict[str, Any]:
    rows = report.rows
    if len(rows) > ROWS_LISTED:
        rows = sorted(rows, key=lambda row: not row.findings)[:ROWS_LISTED]
    counts = report.counts()
    return {
        "written": report.written,
        "change": change,
        "counts": counts,
        "readings_added": report.readings_added,
        "rows": [_row(row) for row in rows],
        "rows_left_out": max(0, sum(counts.values()) - sum(not row.implied for row in rows)),
        "said": list(report.said),
        "findings": remarks(report.findings),
    }


def _row(row: RowOutcome) -> dict[str, Any]:
    return {
        "line": row.line,
        "sheet": row.sheet,
        "kind": row.kind,
        "name": row.name,
        "outcome": row.outcome,
        "detail": row.detail,
        "implied": row.implied,
        "findings": remarks(row.findings),
    }
