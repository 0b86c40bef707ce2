"""Undo and redo: the rows a change wrote, put back exactly, keys and versions included.

A change can be taken back only while every row is as the change left it and nothing that came later needs
its rows; otherwise the refusal names what came later.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, NotFoundError, UndoError
from plaitlog.models.plausibility import whip_refusals
from plaitlog.models.tables import Base, HistoryRow
from plaitlog.service.usecases.changes.derived_rows import drop_derived
from plaitlog.service.usecases.changes.journal import Journal, Row
from plaitlog.service.usecases.changes.row_images import RowChange, RowKey, parts_of, row_changes, rows_by_key
from plaitlog.service.usecases.changes.undo_conflicts import conflicts, in_words
from plaitlog.service.usecases.loading import in_parts, load_whips
from plaitlog.service.usecases.places import placed

Action = Literal["undo", "redo"]


@dataclass(frozen=True, slots=True)
class Undone:
    """An undo or redo: its own number in the history, and the change that it was about."""

    number: int
    action: Action
    of: int


def undo(session: Session, number: int | None = None, *, actor: str | None = None) -> Undone:
    """Take a change back; without a number the latest that holds.

    The number may be that of an undo or redo too: then its own effect is taken back.

    Raises
    ------
    NotFoundError
        There is no such change.
    UndoError
        It is undone already, or something stands in the way; then nothing is written.
    """
    if number is None:
        number = _latest_done(session)
        return _carry_out(session, number, "undo", actor)
    of, action = _meant(session, number)
    return _carry_out(session, of, "redo" if action == "undo" else "undo", actor)


def redo(session: Session, number: int | None = None, *, actor: str | None = None) -> Undone:
    """Make a change again that was undone; without a number the one that was undone last.

    Raises
    ------
    NotFoundError, UndoError
        As for ``undo``.
    """
    if number is None:
        return _carry_out(session, _undone_last(session), "redo", actor)
    of, action = _meant(session, number)
    return _carry_out(session, of, "undo" if action == "undo" else "redo", actor)


def last_about(session: Session) -> dict[int, tuple[int, str]]:
    """Per change that was ever undone or done again: the last row about it, and which of the two that is."""
    last = (
        select(func.max(HistoryRow.id)).where(HistoryRow.of.is_not(None)).group_by(HistoryRow.of)
    ).scalar_subquery()
    rows = select(HistoryRow.of, HistoryRow.id, HistoryRow.action).where(HistoryRow.id.in_(last))
    return {row.of: (row.id, row.action) for row in session.execute(rows)}


def undone_changes(session: Session) -> dict[int, int]:
    """Every change that is undone now, with the number of the undo."""
    return {of: number for of, (number, action) in last_about(session).items() if action == "undo"}


def _latest_done(session: Session) -> int:
    undone = undone_changes(session)
    changes = select(HistoryRow.id).where(HistoryRow.of.is_(None)).order_by(HistoryRow.id.desc())
    for number in session.scalars(changes):
        if number not in undone:
            return number
    raise UndoError(Finding("nothing-to-undo", "there is no change to undo"))


def _undone_last(session: Session) -> int:
    undone = undone_changes(session)
    if not undone:
        raise UndoError(Finding("nothing-to-redo", "there is no change that was undone"))
    return max(undone, key=lambda change: undone[change])


def _meant(session: Session, number: int) -> tuple[int, str]:
    """The change that a row of the history is about, and what the row did."""
    row = session.execute(
        select(HistoryRow.of, HistoryRow.action).where(HistoryRow.id == number)
    ).one_or_none()
    if row is None:
        raise NotFoundError(
            Finding("change-not-found", f"there is no change {number}", "'plaitlog history' lists them")
        )
    return (number, row.action) if row.of is None else (row.of, row.action)


def _carry_out(session: Session, of: int, action: Action, actor: str | None) -> Undone:
    undone = of in undone_changes(session)
    if undone == (action == "undo"):
        state, remedy = ("undone", f"redo {of}") if undone else ("done", f"undo {of}")
        raise UndoError(
            Finding(f"already-{state}", f"change {of} is {state} already", f"'plaitlog {remedy}' reverses it")
        )
    changes = row_changes(session, of, backwards=action == "undo")
    if found := conflicts(session, changes):
        raise _refused(of, action, in_words(session, of, found))
    journal = Journal(session, action, actor, _subject(session, of), of=of)
    with session.begin_nested():
        whips = _whips_that_stay(session, changes)
        before = _refusals(session, whips)
        _leave(session, changes)
        spoilt = [text for text in _refusals(session, whips) if text not in before]
        if spoilt:
            raise _refused(of, action, tuple(spoilt))
        number = journal.number
    return Undone(number, action, of)


def _refused(of: int, action: Action, findings: tuple[Finding, ...]) -> UndoError:
    first = findings[0]
    what = "undone" if action == "undo" else "done again"
    return UndoError(
        Finding(first.code, f"change {of} cannot be {what}: {first.text}", first.remedy, first.where),
        findings,
    )


def _subject(session: Session, number: int) -> str | None:
    return session.scalar(select(HistoryRow.subject).where(HistoryRow.id == number))


def _leave(session: Session, changes: Mapping[RowKey, RowChange]) -> None:
    """Write the rows as wanted, in an order that no foreign key and no unique name forbids."""
    tables = [
        table for table in Base.metadata.sorted_tables if any(name == table.name for name, _ in changes)
    ]
    for table in tables:
        drop_derived(session, table, _rows(changes, table.name, "found"))
    late: list[RowKey] = []
    new = {key for key, change in changes.items() if change.found is None}
    for table in reversed(tables):
        mine = {key: changes[table.name, key] for name, key in changes if name == table.name}
        for part in parts_of([key for key, change in mine.items() if change.left is None]):
            session.execute(delete(table).where(table.c.id.in_(part)))
        for key, change in mine.items():
            if change.left is None or change.found is None:
                continue
            targets = {(k.column.table.name, change.left[k.parent.name]) for k in table.foreign_keys}
            if targets & new:
                late.append((table.name, key))
            else:
                _update(session, table.name, key, change.left)
    for table in tables:
        rows = [
            change.left
            for (name, _), change in changes.items()
            if name == table.name and change.found is None and change.left is not None
        ]
        if rows:
            session.execute(insert(table), rows)
    for name, key in late:
        left = changes[name, key].left
        assert left is not None
        _update(session, name, key, left)
    for table in tables:
        drop_derived(session, table, _rows(changes, table.name, "left"))


def _rows(changes: Mapping[RowKey, RowChange], table: str, side: Literal["found", "left"]) -> list[Row]:
    rows = (getattr(change, side) for (name, _), change in changes.items() if name == table)
    return [row for row in rows if row is not None]


def _update(session: Session, name: str, key: int, row: Row) -> None:
    table = Base.metadata.tables[name]
    session.execute(update(table).where(table.c.id == key).values(row))


def _whips_that_stay(session: Session, changes: Mapping[RowKey, RowChange]) -> list[int]:
    """Whips that are there before and after: some of their rows come back, others stay as they are."""
    touched: set[int] = set()
    for (name, key), change in changes.items():
        if name == "whips":
            touched.add(key)
        for row in (change.found, change.left):
            if row is not None and "whip_id" in row:
                touched.add(row["whip_id"])
    staying = {key for key in touched if (c := changes.get(("whips", key))) is None or (c.found and c.left)}
    return sorted(key for _, key in rows_by_key(session, {("whips", key) for key in staying}))


def _refusals(session: Session, whips: list[int]) -> list[Finding]:
    return [
        finding.at(whip.label)
        for part in in_parts(whips)
        for whip in load_whips(session, part).values()
        for finding in whip_refusals(placed(whip))
    ]
