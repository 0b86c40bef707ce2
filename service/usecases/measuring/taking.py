"""One step of a run of measuring: take a reading, pass a station over, take the last step back."""

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, RecordError, StaleEditError
from plaitlog.models.tables import ReadingRow
from plaitlog.models.units import DIAMETER
from plaitlog.service.usecases.changes.undoing import undo
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.measuring.expecting import expected, on_bench
from plaitlog.service.usecases.measuring.runs import Run, Setup, Taken, keep_run, kept_run
from plaitlog.service.usecases.recording.answers import with_unit
from plaitlog.service.usecases.shown_units import ShownUnits

TOLD: Final = ("reading-unusual", "repeats-differ", "planned-measured")
"""Findings about a reading that are told as it is taken; that it lies near a drop was told before."""


@dataclass(frozen=True, slots=True)
class Appended:
    """A reading that was stored: its key, the change it was stored by, what is worth a look."""

    key: int
    change: int
    findings: tuple[Finding, ...]


def take_reading(
    session: Session, label: str, typed: str, step: int, shown: ShownUnits, *, actor: str | None = None
) -> Run:
    """Store the reading that is due; the run with it.

    typed : a diameter, in the unit of ``shown`` where it has none. step : how many steps the run had when it
    was typed, so that the same sent twice is one reading.

    Raises
    ------
    InputError
        Where it is no diameter, or nothing is due.
    StaleEditError
        Where the run went on meanwhile, and something else was measured there.
    """
    run = running(session, label)
    text, size_mm = diameter_typed(typed, shown)
    if step != len(run.taken):
        return _again(run, step, text)
    due = run.due
    if due is None:
        raise InputError(Finding("nothing-due", "every station is measured", "begin another run", "size"))
    bench = on_bench(session, label)
    told = expected(bench, run.setup)[due.station]
    added = append_reading(session, reading_record(label, run.setup, due.station, text), actor=actor)
    taken = Taken(
        station=due.station,
        key=added.key,
        change=added.change,
        typed=text,
        size_mm=size_mm,
        **told.sizes(),
        remarks=tuple(f"{one.text}; {one.remedy}" for one in added.findings if one.code in TOLD),
    )
    return _kept(session, label, replace(run, taken=(*run.taken, taken), back=None))


def pass_over(session: Session, label: str, step: int) -> Run:
    """Leave the station that is due; the run without it. A step that was sent twice is one."""
    run = running(session, label)
    due = run.due
    if due is None or step != len(run.taken):
        return run
    return _kept(session, label, replace(run, taken=(*run.taken, Taken(station=due.station)), back=None))


def take_back(session: Session, label: str, step: int, *, actor: str | None = None) -> Run:
    """Take the last step back: its reading is undone, and what it was of is due again.

    Raises
    ------
    UndoError
        Where something that came later stands in the way.
    """
    run = running(session, label)
    if step != len(run.taken) and not run.ended:
        return run
    if run.ended:
        return _kept(session, label, replace(run, ended=False, back=None))
    if not run.taken:
        return run
    last = run.taken[-1]
    if last.change is not None:
        undo(session, last.change, actor=actor)
    return _kept(session, label, replace(run, taken=run.taken[:-1], back=last))


def end_run(session: Session, label: str) -> Run:
    """Leave what is not measured yet."""
    return _kept(session, label, replace(running(session, label), ended=True, back=None))


def running(session: Session, label: str) -> Run:
    """The run of a whip; InputError where none was begun."""
    run = kept_run(session, label)
    if run is None:
        raise InputError(Finding("no-run", f"measuring {label} was not begun", "choose the stations first"))
    return run


def diameter_typed(typed: str, shown: ShownUnits) -> tuple[str, float]:
    """The text with its unit, and mm; some calipers send a sign before the number.

    Raises
    ------
    UnitError
        Where it is no diameter.
    """
    return with_unit(typed.strip().removeprefix("+"), shown.diameters, DIAMETER)


def reading_record(label: str, setup: Setup, station: int, text: str) -> dict[str, Any]:
    """The reading as it would stand in a file."""
    record: dict[str, Any] = {
        "kind": "reading",
        "whip": label,
        "at": setup.stations[station].text,
        "diameter": text,
        "after_layer": setup.after_layer,
        "condition": setup.condition,
        "on": dt.datetime.now().astimezone().date().isoformat(),
    }
    return {key: value for key, value in record.items() if value is not None}


def append_reading(session: Session, record: dict[str, Any], *, actor: str | None = None) -> Appended:
    """Add a reading, also one that says the same as an earlier one: it was measured once more.

    Raises
    ------
    RecordError
        With everything that is to be mended.
    """
    # A file that states a reading n times is about n readings: those that are there already count among them.
    copies = 1
    rows = take_records(session, [record], dry_run=True).rows
    while rows and all(row.outcome == "there already" for row in rows if not row.implied):
        copies *= 2
        rows = take_records(session, [record] * copies, dry_run=True).rows
    refused = [finding for row in rows if row.outcome == "rejected" for finding in row.findings]
    if refused:
        raise RecordError(*refused)
    there = sum(row.outcome == "there already" for row in rows)
    report = take_records(session, [record] * (there + 1), actor=actor)
    key, change = session.scalar(select(func.max(ReadingRow.id))), latest_change(session)
    assert key is not None
    assert change is not None
    return Appended(key, change, tuple(finding for row in report.rows for finding in row.findings))


def _again(run: Run, step: int, text: str) -> Run:
    """The run as it is, where the step says the same as the one that was taken."""
    before = run.taken[step] if 0 <= step < len(run.taken) else None
    if before is not None and before.typed == text:
        return run
    was = (
        "the run has gone on"
        if before is None
        else f"{before.typed or 'a station passed over'} is there already"
    )
    finding = Finding("run-went-on", f"{was}; {text} was not taken", "type it where it belongs", "size")
    raise StaleEditError(finding, len(run.taken), {"size": (text, before and before.typed)})


def _kept(session: Session, label: str, run: Run) -> Run:
    keep_run(session, label, run)
    return run
