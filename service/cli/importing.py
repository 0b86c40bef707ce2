"""``plaitlog import``: bring records in from a JSON Lines file."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, finding_json, result, say
from plaitlog.service.cli.progress import bar
from plaitlog.service.cli.reading_files import opened
from plaitlog.service.cli.workshop import engine

if TYPE_CHECKING:
    from plaitlog.service.usecases.import_report import ImportReport

QUIET_ROWS = 40
"""Beyond this many rows only those with something to say are listed."""


def register(app: typer.Typer) -> None:
    app.command("import")(import_file)


def import_file(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="JSON Lines, one record a line; - reads from standard input.")],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what each row would do; write nothing.")
    ] = False,
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Bring makers, cords, whips, readings and ratings in from a file: all of it, or nothing.

    Importing the same file twice changes nothing.
    """
    from plaitlog.service.database import reading, writing
    from plaitlog.service.settings import Settings
    from plaitlog.service.usecases.importing import import_lines

    with opened(file) as (stream, size):
        found = engine(context, database)
        with (reading if dry_run else writing)(found) as session, bar() as progress:
            report = import_lines(
                session,
                stream,
                source=None if str(file) == "-" else file.name,
                dry_run=dry_run,
                line_limit_bytes=Settings().line_limit_bytes,
                size_bytes=size,
                progress=progress,
            )
    if json:
        as_json(report_json(report))
    else:
        print_report(report)
    end([finding for row in report.rows for finding in row.findings], strict)


def report_json(report: "ImportReport") -> dict[str, Any]:
    return {
        "written": report.written,
        "counts": report.counts(),
        "readings_added": report.readings_added,
        "rows": [
            {
                "line": row.line,
                "kind": row.kind,
                "name": row.name,
                "outcome": row.outcome,
                "detail": row.detail,
                "implied": row.implied,
                "findings": [finding_json(finding) for finding in row.findings],
            }
            for row in report.rows
        ],
    }


def print_report(report: "ImportReport") -> None:
    """Row by row where the file is short; else only the rows that are rejected or worth a look."""
    would = "" if report.written else "would "
    done = {"add": "added", "update": "updated"} if report.written else {}
    many = len(report.rows) > QUIET_ROWS
    for row in report.rows:
        if many and not row.findings:
            continue
        outcome = done.get(
            row.outcome, f"{would}{row.outcome}" if row.outcome in {"add", "update"} else row.outcome
        )
        detail = f" ({row.detail})" if row.detail else ""
        place = f"line {row.line}" if not row.implied else f"line {row.line}, implied"
        result(f"{place}: {row.kind} {row.name}: {outcome}{detail}")
        for finding in row.findings:
            result(f"    {finding}")
    counts = report.counts()
    added, updated = ("added", "updated") if report.written else ("would add", "would update")
    result(
        f"{added} {counts['add']}, {updated} {counts['update']}, there already {counts['there already']}, "
        f"rejected {counts['rejected']}; new readings: {report.readings_added}"
    )
    if not report.written:
        say("Dry run: nothing was written.")
