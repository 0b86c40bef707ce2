"""Import of spreadsheets: the rows of every table become records, taken in as those of any file are."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import BinaryIO, Final

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.import_report import ImportReport, Progress
from plaitlog.service.usecases.importing import refused
from plaitlog.service.usecases.spreadsheets.column_units import known_unit
from plaitlog.service.usecases.spreadsheets.corrected import NO_CORRECTIONS, Corrections, corrected
from plaitlog.service.usecases.spreadsheets.mapped import Choices
from plaitlog.service.usecases.spreadsheets.numbers import Mark
from plaitlog.service.usecases.spreadsheets.reading import open_table
from plaitlog.service.usecases.spreadsheets.rejected_rows import rejected_rows, write_rejected
from plaitlog.service.usecases.spreadsheets.remembered import HeaderMemory
from plaitlog.service.usecases.spreadsheets.sheets import NO_CHOICES, FoundTables, find_tables
from plaitlog.service.usecases.spreadsheets.staging import Staging
from plaitlog.service.usecases.spreadsheets.taking import Taken, Taking

_NOTHING: Final[Mapping[str, str]] = {}


def import_table(
    session: Session,
    stream: BinaryIO,
    name: str,
    *,
    table: str | None = None,
    mapping: Mapping[str, str] = _NOTHING,
    units: Mapping[str, str] = _NOTHING,
    decimal: Mark | None = None,
    sheets: Sequence[str] = (),
    partial: bool = False,
    rejects: Path | BinaryIO | None = None,
    dry_run: bool = False,
    actor: str | None = None,
    memory: HeaderMemory | None = None,
    size_bytes: int | None = None,
    encoding: str | None = None,
    progress: Progress = lambda doing, done, total: None,
    by_sheet: Mapping[str, Choices] = NO_CHOICES,
    corrections: Corrections = NO_CORRECTIONS,
    rejected_kept: int = 0,
) -> ImportReport:
    """Take a spreadsheet (CSV, xlsx) into the workshop: all of it, or what is sound.

    Parameters
    ----------
    stream, name : the file, opened for reading bytes, and its name.
    table : kind of table, where the header fits several.
    mapping : header to key, or to "-" for a column that is to be passed over.
    units : header, key or kind of size (length, diameter, weight, station) to the unit of bare numbers.
    decimal : what a comma or point in a number is, where the file does not tell.
    sheets : names of the sheets to read; all without any.
    partial : take what is sound; else one rejected row keeps all others out.
    rejects : where rejected rows go, in the file's own form, to be mended and imported again.
    dry_run : decide by doing and take it back; the session must be able to write.
    memory : remembers ``mapping``, ``units``, ``table`` and ``decimal`` for files with the same headers.
    encoding : of a CSV file, where it is known.
    by_sheet : what is said about single sheets, which goes before what is said about the file.
    corrections : cells that were put right since the file was written.
    rejected_kept : so many rejected rows are part of the report with their cells.

    Raises
    ------
    TableError
        Where the file is no table, or a header is not known.
    ImportRefusedError
        Where a row is rejected and ``partial`` is not set. Nothing is written then.
    """
    said = Choices(dict(mapping), {key: _unit(unit) for key, unit in units.items()}, table, decimal)
    memory = memory or HeaderMemory()
    with Staging() as staging:
        workbook = corrected(open_table(stream, name, size_bytes=size_bytes, encoding=encoding), corrections)
        progress("reading", 0, size_bytes)
        tables = find_tables(workbook, name, said, memory, sheets, staging, by_sheet)
        with session.begin_nested() as undone:
            journal = Journal(session, "import", actor, None if name == "-" else name)
            taken = Taking(session, staging, tables, journal, progress).run()
            report = _report(taken, tables, workbook.findings, written=not dry_run)
            if rejected_kept:
                kept = tuple(islice(rejected_rows(tables, staging), rejected_kept))
                report = replace(report, rejected_rows=kept)
            refuse = bool(taken.tally["rejected"]) and not partial and not dry_run
            if dry_run or refuse:
                undone.rollback()
        if rejects is not None and (partial or dry_run):
            write_rejected(rejects, workbook, tables, staging)
    if not dry_run or said != Choices():
        for sheet in tables.sheets:
            memory.keep(sheet.layout.headers, sheet.choices)
    if refuse:
        raise refused(report)
    return report


def _unit(text: str) -> str:
    from plaitlog.service.usecases.spreadsheets.headers import unit_named

    unit = unit_named(text)
    if unit is None or not known_unit(unit):
        raise InputError(
            Finding(
                "unit-unknown", f"{text!r} is no unit", "write mm, cm, m, in, ft, g, kg, oz or lb", "--units"
            )
        )
    return unit


def _report(taken: Taken, tables: FoundTables, findings: Sequence[Finding], *, written: bool) -> ImportReport:
    return ImportReport(
        [outcome for _, outcome in sorted(taken.details, key=lambda each: each[0])],
        taken.readings_added,
        written,
        dict(taken.tally),
        tuple(tables.said),
        tuple(findings),
    )
