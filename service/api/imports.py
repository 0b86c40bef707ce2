"""Imports: a file of records in, all of it or nothing."""

from typing import Annotated, Any, Final

from fastapi import Query
from sqlalchemy.orm import Session

from plaitlog.service.api.answers import Answer, remarks
from plaitlog.service.api.bodies import JSON_LINES, UploadedFile
from plaitlog.service.api.documented import BODY, answers, router
from plaitlog.service.api.parameters import Database, Filter, Limits
from plaitlog.service.database import reading, write
from plaitlog.service.schemas.calculated import ImportOut
from plaitlog.service.usecases.import_report import ImportReport, RowOutcome
from plaitlog.service.usecases.importing import import_lines
from plaitlog.service.usecases.listing import latest_change

ROWS_LISTED: Final = 1_000

routes = router("imports")


def _content() -> dict[str, Any]:
    lines = {
        "schema": {},  # bytes: what they hold is told line by line
        "examples": {"maker": {"value": '{"kind":"maker","name":"Orrin"}\n'}},
    }
    return {"requestBody": {"required": True, "content": dict.fromkeys(JSON_LINES, lines)}}


@routes.post(
    "",
    summary="Import a file",
    responses=answers(ImportOut, "What became of each row.", *BODY),
    openapi_extra=_content(),
)
def import_file(
    database: Database,
    limits: Limits,
    file: UploadedFile,
    dry_run: Annotated[bool, Query(description="Say what each row would do, and write nothing.")] = False,
    source: Annotated[
        Filter, Query(min_length=1, max_length=200, description="Name of the file, kept in the history.")
    ] = None,
) -> Answer:
    """Take a file of records into the workshop. The same file twice changes nothing.

    Any row that is rejected refuses the whole file (422), with up to 100 findings. A dry run lists them.
    """

    def work(session: Session) -> tuple[ImportReport, int | None]:
        file.stream.seek(0)  # the whole transaction may be tried again
        before = latest_change(session)
        report = import_lines(
            session,
            file.stream,
            source=source,
            dry_run=dry_run,
            line_limit_bytes=limits.line_limit_bytes,
            size_bytes=file.size_bytes,
        )
        after = latest_change(session)
        return report, None if after == before else after

    if dry_run:
        with reading(database) as session:
            report, change = work(session)
    else:
        report, change = write(database, work)
    return Answer(report_json(report, change))


def report_json(report: ImportReport, change: int | None) -> dict[str, Any]:
    rows = report.rows
    if len(rows) > ROWS_LISTED:
        rows = sorted(rows, key=lambda row: not row.findings)[:ROWS_LISTED]
    return {
        "written": report.written,
        "change": change,
        "counts": report.counts(),
        "readings_added": report.readings_added,
        "rows": [_row(row) for row in rows],
        "rows_left_out": len(report.rows) - len(rows),
    }


def _row(row: RowOutcome) -> dict[str, Any]:
    return {
        "line": row.line,
        "kind": row.kind,
        "name": row.name,
        "outcome": row.outcome,
        "detail": row.detail,
        "implied": row.implied,
        "findings": remarks(row.findings),
    }
