"""An import as it is asked for step by step: a file, what was said about it so far, rows put right."""

import tempfile
from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import asdict, dataclass, field, replace
from typing import Any, BinaryIO, Final, cast

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, UndoError
from plaitlog.service.usecases.import_report import ImportReport, Progress, RejectedRow, RowOutcome
from plaitlog.service.usecases.importing import LINE_LIMIT_BYTES, import_lines
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.spreadsheets.corrected import Corrections
from plaitlog.service.usecases.spreadsheets.importing import import_table
from plaitlog.service.usecases.spreadsheets.mapped import Choices
from plaitlog.service.usecases.spreadsheets.numbers import Mark
from plaitlog.service.usecases.spreadsheets.remembered import HeaderMemory

REJECTED_KEPT: Final = 60
"""Rejected rows that are shown to be put right by hand; beyond these it is easier in a spreadsheet."""
ROWS_KEPT: Final = 300
_NOTHING: Final = HeaderMemory()


@dataclass(frozen=True, slots=True)
class Asked:
    """What the maker said about one file.

    Attributes
    ----------
    by_sheet : what its columns are; a CSV file has one sheet without a name.
    left_out : names of sheets that are not to be read.
    corrections : cells put right, by sheet, line and column; lines of JSON have one column.
    """

    by_sheet: Mapping[str, Choices] = field(default_factory=dict)
    left_out: tuple[str, ...] = ()
    decimal: Mark | None = None
    encoding: str | None = None
    corrections: Corrections = field(default_factory=dict)

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return asdict(self)


def asked_from(data: Mapping[str, Any]) -> Asked:
    """What ``plain`` gave, read again from JSON."""
    return Asked(
        {name: Choices(**choices) for name, choices in data["by_sheet"].items()},
        tuple(data["left_out"]),
        data["decimal"],
        data["encoding"],
        {
            sheet: {
                int(line): {int(column): text for column, text in cells.items()} for line, cells in x.items()
            }
            for sheet, x in data["corrections"].items()
        },
    )


@dataclass(frozen=True, slots=True)
class SourceFile:
    """The file that is imported, opened for reading bytes.

    is_lines : whether it holds lines of JSON. sheets : names of those of a workbook.
    """

    stream: BinaryIO
    name: str
    size_bytes: int
    is_lines: bool
    sheets: tuple[str, ...] = ()


def try_out(
    session: Session,
    source: SourceFile,
    asked: Asked,
    *,
    memory: HeaderMemory = _NOTHING,
    rejects: BinaryIO | None = None,
    line_limit_bytes: int = LINE_LIMIT_BYTES,
    progress: Progress = lambda doing, done, total: None,
) -> ImportReport:
    """What each row would do; nothing is kept. The session must be able to write where it is a table.

    rejects : where rejected rows go, as a file of the same make.

    Raises
    ------
    InputError
        Where the file cannot be read as it is asked.
    """
    return _run(session, source, asked, memory, rejects, line_limit_bytes, progress, dry_run=True)


def take_in(
    session: Session,
    source: SourceFile,
    asked: Asked,
    *,
    seen_change: int | None,
    seen_rejected: int,
    memory: HeaderMemory = _NOTHING,
    line_limit_bytes: int = LINE_LIMIT_BYTES,
    progress: Progress = lambda doing, done, total: None,
) -> tuple[ImportReport, int | None]:
    """Import what is sound, as it was shown before; gives the change's number, None where nothing is new.

    seen_change, seen_rejected : latest change when it was shown, and how many rows were rejected then.

    Raises
    ------
    UndoError
        Where things are no longer as they were shown; nothing is written.
    """
    before = latest_change(session)
    if before != seen_change:
        raise _moved_on()
    report = _run(session, source, asked, memory, None, line_limit_bytes, progress, dry_run=False)
    if report.counts()["rejected"] != seen_rejected:
        raise _moved_on()
    after = latest_change(session)
    return report, None if after == before else after


def _moved_on() -> UndoError:
    return UndoError(
        Finding("moved-on", "the workshop has changed since the rows were checked", "check them again")
    )


def _run(
    session: Session,
    source: SourceFile,
    asked: Asked,
    memory: HeaderMemory,
    rejects: BinaryIO | None,
    line_limit_bytes: int,
    progress: Progress,
    *,
    dry_run: bool,
) -> ImportReport:
    source.stream.seek(0)
    name = source.name or None
    if source.is_lines:
        with _corrected(source.stream, asked) as stream:
            report = import_lines(
                session,
                stream,
                source=name,
                dry_run=dry_run,
                partial=True,
                rejects=rejects,
                line_limit_bytes=line_limit_bytes,
                size_bytes=source.size_bytes,
                progress=progress,
            )
            return replace(report, rejected_rows=_lines_of(stream, report))
    return import_table(
        session,
        source.stream,
        name or "-",
        decimal=asked.decimal,
        sheets=tuple(x for x in source.sheets if x not in asked.left_out) if asked.left_out else (),
        partial=True,
        rejects=rejects,
        dry_run=dry_run,
        memory=memory,
        encoding=asked.encoding,
        size_bytes=source.size_bytes,
        progress=progress,
        by_sheet=asked.by_sheet,
        corrections=asked.corrections,
        rejected_kept=REJECTED_KEPT,
    )


def _corrected(stream: BinaryIO, asked: Asked) -> Any:
    """The lines of a file as if the corrections stood in it."""
    texts = asked.corrections.get("")
    if not texts:
        return nullcontext(stream)
    copy = cast("BinaryIO", tempfile.TemporaryFile())  # noqa: SIM115 - closed by whoever goes through it
    for number, raw in enumerate(stream, start=1):
        put = texts.get(number)
        copy.write(raw if put is None else put[0].replace("\n", " ").encode("utf-8", "replace") + b"\n")
    copy.seek(0)
    return copy


def _lines_of(stream: BinaryIO, report: ImportReport) -> tuple[RejectedRow, ...]:
    rejected: dict[int, RowOutcome] = {row.line: row for row in report.rows if row.outcome == "rejected"}
    wanted = dict(sorted(rejected.items())[:REJECTED_KEPT])
    found = []
    stream.seek(0)
    for number, raw in enumerate(stream, start=1):
        if number in wanted:
            text = raw.decode("utf-8", "replace").rstrip("\r\n")
            found.append(RejectedRow("", number, (), (text,), wanted[number].findings))
            if len(found) == len(wanted):
                break
    return tuple(found)


def report_data(report: ImportReport) -> dict[str, Any]:
    """A report as plain data: the counts, and the rows that a page has room for, those worth a look first."""
    rows = sorted(report.rows, key=lambda row: not row.findings)[:ROWS_KEPT]
    counts = report.counts()
    return {
        "counts": {name.replace(" ", "_"): number for name, number in counts.items()},
        "rows_in_all": sum(counts.values()),
        "readings_added": report.readings_added,
        "rows": [
            {
                "place": row.place,
                "kind": row.kind,
                "name": row.name,
                "outcome": row.outcome,
                "detail": row.detail,
                "implied": row.implied,
                "findings": [asdict(finding) for finding in row.findings],
            }
            for row in rows
            if row.outcome != "rejected"
        ],
        "rejected": [asdict(row) for row in report.rejected_rows],
        "said": list(report.said),
        "findings": [asdict(finding) for finding in report.findings],
    }
