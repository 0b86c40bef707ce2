"""Import of JSON Lines: the whole file is read and decided on, then everything is written, or nothing.

Tables come in by ``spreadsheets/importing.py``, which decides and writes with the same plan.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO, Final

from pydantic import ValidationError
from sqlalchemy.orm import Session

from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding, ImportRefusedError
from plaitlog.service.schemas.refusals import findings_of, record_from
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.import_deciding import plan_import, plan_sound
from plaitlog.service.usecases.import_plan import Row
from plaitlog.service.usecases.import_report import ImportReport, Progress, RowOutcome
from plaitlog.service.usecases.import_writing import write_plan
from plaitlog.service.usecases.json_lines import read_lines, unstorable

LINE_LIMIT_BYTES: Final = 1_000_000
SHOWN_AT_MOST: Final = 100
REPORTED_EVERY: Final = 500


@dataclass(frozen=True, slots=True)
class ReadFile:
    """The rows of a file: those that hold a record, and those that are rejected as they stand."""

    rows: list[Row]
    rejected: list[RowOutcome]


def import_lines(
    session: Session,
    stream: BinaryIO,
    *,
    actor: str | None = None,
    source: str | None = None,
    dry_run: bool = False,
    partial: bool = False,
    rejects: BinaryIO | None = None,
    line_limit_bytes: int = LINE_LIMIT_BYTES,
    size_bytes: int | None = None,
    progress: Progress = lambda doing, done, total: None,
) -> ImportReport:
    """Take a file of records into the workshop, all of it or nothing, or what is sound.

    Parameters
    ----------
    stream : the file, opened for reading bytes.
    actor, source : who imports, and the file's name; both are kept in the history.
    dry_run : decide only, and write nothing; rejected rows are then part of the report.
    partial : take what is sound, and leave out what is rejected and what needs that.
    rejects : where rejected lines are copied to, as they stand; the file must be able to go back then.
    size_bytes : length of the file, where it is known, for ``progress``.

    Raises
    ------
    ImportRefusedError
        Where any row is rejected and ``partial`` is not set. It carries up to 100 findings, and counts all.
    """
    start = stream.tell() if rejects is not None else 0
    read = read_file(stream, line_limit_bytes, size_bytes, progress)
    report = _take(session, read, "import", actor, source, dry_run, progress, partial=partial)
    if rejects is not None:
        stream.seek(start)
        lines = {row.line for row in report.rows if row.outcome == "rejected"}
        for number, raw in enumerate(stream, start=1):
            if number in lines:
                rejects.write(raw if raw.endswith(b"\n") else raw + b"\n")
    return report


def take_records(
    session: Session,
    records: Sequence[Mapping[str, Any]],
    *,
    actor: str | None = None,
    action: str = "record",
    dry_run: bool = False,
) -> ImportReport:
    """Take records that were made by hand or by a form, as if they stood in a file, one on each line.

    Raises
    ------
    ImportRefusedError
        Where any of them is refused; then none is taken.
    """
    read = ReadFile([], [])
    for number, record in enumerate(records, start=1):
        if (wrong := unstorable(record)) is not None:
            read.rejected.append(_rejected(number, record, [wrong]))
        else:
            _read_record(read, number, dict(record))
    return _take(session, read, action, actor, None, dry_run, lambda doing, done, total: None)


def _take(
    session: Session,
    read: ReadFile,
    action: str,
    actor: str | None,
    source: str | None,
    dry_run: bool,
    progress: Progress,
    *,
    partial: bool = False,
) -> ImportReport:
    left_out: list[RowOutcome] = []
    if partial:
        plan, left_out = plan_sound(session, read.rows, read.rejected)
    else:
        plan = plan_import(session, read.rows, read.rejected)
    outcomes = sorted([*read.rejected, *left_out, *plan.outcomes], key=lambda outcome: outcome.line)
    added = sum(len(merged.added) for merged in plan.whips.values())
    report = ImportReport(outcomes, added, written=not dry_run)
    if dry_run:
        return report
    if report.refusals and not partial:
        raise refused(report)
    write_plan(session, plan, Journal(session, action, actor, source), progress)
    return report


def refused(report: ImportReport) -> ImportRefusedError:
    """What to raise for an import of which nothing is taken because some rows are rejected."""
    rows, refusals = report.counts()["rejected"], report.refusals
    more = "" if len(refusals) < rows else f" for {counted(len(refusals), 'reason')}"
    return ImportRefusedError(
        Finding(
            "import-refused",
            f"nothing was taken: {rows} {'row is' if rows == 1 else 'rows are'} rejected{more}",
            "mend what is listed and try again",
        ),
        tuple(refusals[:SHOWN_AT_MOST]),
    )


def read_file(
    stream: BinaryIO, line_limit_bytes: int, size_bytes: int | None, progress: Progress
) -> ReadFile:
    """Every row of the file, checked by itself."""
    found = ReadFile([], [])
    done = 0
    for number, (line, done) in enumerate(read_lines(stream, line_limit_bytes), start=1):
        if line.refusal is not None:
            found.rejected.append(_rejected(line.number, None, [line.refusal]))
        else:
            _read_record(found, line.number, line.data)
        if number % REPORTED_EVERY == 0:
            progress("reading", done, size_bytes)
    progress("reading", done, size_bytes)
    return found


def _read_record(found: ReadFile, number: int, data: object) -> None:
    try:
        found.rows.append(Row(number, record_from(data)))
    except ValidationError as error:
        found.rejected.append(_rejected(number, data, findings_of(error)))


def _rejected(number: int, data: object, findings: list[Finding]) -> RowOutcome:
    kind = name = ""
    if isinstance(data, dict):
        kind = str(data.get("kind", ""))
        name = next((str(data[key]) for key in ("label", "name", "whip", "cord") if key in data), "")
    return RowOutcome(number, kind[:200], name[:200], "rejected", "", tuple(findings))
