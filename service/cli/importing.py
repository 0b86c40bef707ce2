"""``plaitlog import``: bring records in from a file of records or a spreadsheet."""

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, BinaryIO, Literal, cast

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.exporting import written
from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, finding_json, result, say
from plaitlog.service.cli.progress import Progress, bar
from plaitlog.service.cli.reading_files import opened
from plaitlog.service.cli.workshop import engine

if TYPE_CHECKING:
    from plaitlog.service.usecases.import_report import ImportReport

QUIET_ROWS = 40
"""Beyond this many rows only those with something to say are listed."""
_START_BYTES = 4096


def register(app: typer.Typer) -> None:
    app.command("import")(import_file)


def import_file(
    context: typer.Context,
    file: Annotated[
        Path,
        typer.Argument(
            help="Records as JSON Lines, or a table as CSV or xlsx, told by the content; - is standard input."
        ),
    ],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what each row would do; write nothing.")
    ] = False,
    partial: Annotated[
        bool,
        typer.Option("--partial", help="Take what is sound; else one rejected row keeps all others out."),
    ] = False,
    rejected: Annotated[
        Path | None,
        typer.Option(
            "--rejected",
            metavar="FILE",
            help="With --partial: where rejected rows go, to be mended and imported again. "
            "Without it they go beside the file, as NAME.rejected.csv.",
        ),
    ] = None,
    table: Annotated[
        str | None,
        typer.Option(
            "--table",
            metavar="KIND",
            help="Kind of table, where the header fits several: whips, layers, readings, ratings, "
            "cords, stock, makers, turn lengths, weighings, cord used.",
        ),
    ] = None,
    mapping: Annotated[
        list[str] | None,
        typer.Option(
            "--map",
            metavar="HEADER=KEY",
            help='What a column is that is not told by its header; "HEADER=-" passes it over. '
            "Remembered for these headers.",
        ),
    ] = None,
    units: Annotated[
        str | None,
        typer.Option(
            "--units",
            metavar="SIZE=UNIT,...",
            help='Units of bare numbers: "diameter=mm,length=in,station=in", or by header. Remembered.',
        ),
    ] = None,
    decimal: Annotated[
        Literal["comma", "point"] | None,
        typer.Option("--decimal", help="The decimal mark, where the file itself does not tell. Remembered."),
    ] = None,
    sheet: Annotated[
        list[str] | None,
        typer.Option("--sheet", metavar="NAME", help="Read this sheet only; may be repeated."),
    ] = None,
    encoding: Annotated[
        str | None, typer.Option("--encoding", help="Encoding of a CSV file, where it is guessed wrongly.")
    ] = None,
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Bring makers, cords, whips, readings and ratings in from a file: all of it, or nothing.

    Importing the same file twice changes nothing. A table may have its columns in any order; it may be a
    notebook with one row a whip and reading columns such as D0, D12, D24 or thick, mid, point.
    """
    from plaitlog.service.database import reading, writing
    from plaitlog.service.settings import Settings, data_folder
    from plaitlog.service.usecases.importing import import_lines
    from plaitlog.service.usecases.json_lines import holds_lines
    from plaitlog.service.usecases.spreadsheets.remembered import FILE

    if rejected is not None and not (partial or dry_run):
        raise InputError(
            Finding("option", "goes with --partial", "without it nothing is taken at all", "--rejected")
        )
    name = "-" if str(file) == "-" else file.name
    with opened(file) as (opened_stream, size), _able_to_go_back(opened_stream) as stream:
        lines = holds_lines(stream.read(_START_BYTES), name)
        stream.seek(0)
        target = rejected
        if partial and target is None and name != "-":
            ending = ".jsonl" if lines else ".xlsx" if _is_zip(stream) else file.suffix or ".csv"
            target = _free(file.with_name(f"{file.stem}.rejected{ending}"))
        found = engine(context, database)
        session_of = reading if dry_run and lines else writing  # a table is tried out and taken back
        # The file of rejected rows is written before anything is committed.
        with (
            session_of(found) as session,
            _rejects(target if partial or rejected else None) as rejects,
            bar() as progress,
        ):
            if lines:
                report = import_lines(
                    session,
                    stream,
                    source=None if name == "-" else name,
                    dry_run=dry_run,
                    partial=partial,
                    rejects=rejects,
                    line_limit_bytes=Settings().line_limit_bytes,
                    size_bytes=size,
                    progress=progress,
                )
            else:
                report = _table(
                    session,
                    stream,
                    name,
                    data_folder() / FILE,
                    progress,
                    table=table,
                    mapping=_pairs(mapping or (), "--map"),
                    units=_pairs((units or "").split(",") if units else (), "--units"),
                    decimal=decimal,
                    sheets=sheet or (),
                    partial=partial,
                    rejects=rejects,
                    dry_run=dry_run,
                    encoding=encoding,
                    size_bytes=size,
                )
    if json:
        as_json(report_json(report))
    else:
        print_report(report)
        if target is not None and report.counts()["rejected"] and (partial or dry_run):
            say(f"Rejected rows are in {target}: mend them there and import that file.")
    end([finding for row in report.rows for finding in row.findings], strict)


def _table(
    session: Any, stream: BinaryIO, name: str, memory: Path, progress: Progress, **options: Any
) -> "ImportReport":
    from plaitlog.service.usecases.spreadsheets.importing import import_table
    from plaitlog.service.usecases.spreadsheets.remembered import HeaderMemory

    return import_table(session, stream, name, memory=HeaderMemory(memory), progress=progress, **options)


@contextmanager
def _able_to_go_back(stream: BinaryIO) -> Iterator[BinaryIO]:
    """The stream, or a copy on disk of one that cannot be read twice."""
    if stream.seekable():
        yield stream
        return
    with tempfile.TemporaryFile() as copy:
        while chunk := stream.read(1 << 20):
            copy.write(chunk)
        copy.seek(0)
        yield cast("BinaryIO", copy)


def _free(file: Path) -> Path:
    """The file, or one beside it that is not there yet: an earlier one may hold rows mended by hand."""
    names = (file, *(file.with_name(f"{file.stem}-{n}{file.suffix}") for n in range(2, 1000)))
    return next((name for name in names if not name.exists()), file)


def _is_zip(stream: BinaryIO) -> bool:
    start = stream.read(2)
    stream.seek(0)
    return start == b"PK"


@contextmanager
def _rejects(target: Path | None) -> Iterator[BinaryIO | None]:
    """A file for rejected rows that appears only where there are any."""
    if target is None:
        yield None
        return
    with tempfile.TemporaryFile() as kept:
        yield cast("BinaryIO", kept)
        if kept.tell():
            kept.seek(0)
            with written(target) as stream:
                while chunk := kept.read(1 << 20):
                    stream.write(chunk)


def _pairs(texts: Sequence[str], option: str) -> dict[str, str]:
    found = {}
    for text in texts:
        head, sign, key = text.rpartition("=")
        if not sign or not head.strip() or not key.strip():
            sample = "Remarks=notes" if option == "--map" else "diameter=mm,length=in"
            raise InputError(
                Finding("option", f"{text!r} is not of the form A=B", f'write it like "{sample}"', option)
            )
        found[head.strip()] = key.strip()
    return found


def report_json(report: "ImportReport") -> dict[str, Any]:
    return {
        "written": report.written,
        "counts": report.counts(),
        "readings_added": report.readings_added,
        "said": list(report.said),
        "findings": [finding_json(finding) for finding in report.findings],
        "rows": [
            {
                "line": row.line,
                **({"sheet": row.sheet} if row.sheet else {}),
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
    for text in (*report.said, *map(str, report.findings)):
        say(text)
    would = "" if report.written else "would "
    done = {"add": "added", "update": "updated"} if report.written else {}
    many = sum(report.counts().values()) > QUIET_ROWS
    for row in report.rows:
        if many and not row.findings:
            continue
        outcome = done.get(
            row.outcome, f"{would}{row.outcome}" if row.outcome in {"add", "update"} else row.outcome
        )
        detail = f" ({row.detail})" if row.detail else ""
        place = row.place if not row.implied else f"{row.place}, implied"
        result(f"{place}: {row.kind} {row.name}: {outcome}{detail}")
        for finding in row.findings:
            result(f"    {finding}")
    counts = report.counts()
    hidden = counts["rejected"] - sum(row.outcome == "rejected" for row in report.rows)
    if hidden > 0:
        result(f"... and {hidden} more rejected rows")
    added, updated = ("added", "updated") if report.written else ("would add", "would update")
    result(
        f"{added} {counts['add']}, {updated} {counts['update']}, there already {counts['there already']}, "
        f"rejected {counts['rejected']}; new readings: {report.readings_added}"
    )
    if not report.written:
        say("Dry run: nothing was written.")
