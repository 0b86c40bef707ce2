"""The one way by which rows are written: whatever is inserted, updated or deleted is kept for an undo.

A change has one row in the history, made when the first row is written, and one entry for each noun it
touches. An entry holds the record before and after in words a maker knows, and *images*: every table row
that was written as it was and as it is, keys and versions included, so that an undo restores it exactly.
What was worked out from a whip is dropped with the first row of it that is written.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final

from sqlalchemy import Column, Table, delete, insert, select, text, update
from sqlalchemy.orm import Session

from plaitlog.models.tables import Base, HistoryEntryRow, HistoryRow
from plaitlog.models.tables.base import Editable, now
from plaitlog.service.usecases.changes.derived_rows import drop_derived

Row = dict[str, Any]
Image = dict[str, Any]
"""One table row as JSON: dates as text, columns that are null left out."""

KEYS_AT_ONCE: Final = 400


@dataclass(slots=True, eq=False)
class Entry:
    """One noun that a change touches; ``images`` grow with every row written."""

    kind: str
    name: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None
    former_name: str | None = None
    images: dict[str, list[tuple[Image | None, Image | None]]] = field(default_factory=dict)

    def keep(self, table: str, before: Image | None, after: Image | None) -> None:
        self.images.setdefault(table, []).append((before, after))


class Journal:
    """One change in the making; it may serve several parts of one import.

    Parameters
    ----------
    action : import, record, edit, remove, undo or redo.
    actor, subject : who changes something, and what the change is called (a label, a file's name).
    of : number of the change that an undo or redo is about.
    """

    def __init__(
        self,
        session: Session,
        action: str,
        actor: str | None = None,
        subject: str | None = None,
        *,
        of: int | None = None,
    ) -> None:
        self.session = session
        self._change = HistoryRow(
            created_at=now(), actor=actor, action=action, subject=subject and subject[:500], of=of
        )
        self._entries: list[Entry] = []

    @property
    def number(self) -> int:
        """Number of the change; asking for it makes its row in the history."""
        if self._change.id is None:
            self.session.add(self._change)
            self.session.flush()
        return self._change.id

    @property
    def is_empty(self) -> bool:
        """Whether nothing was written so far; then there is nothing in the history either."""
        return self._change.id is None

    def entry(
        self,
        kind: str,
        name: str,
        before: Mapping[str, Any] | None,
        after: Mapping[str, Any] | None,
        *,
        former_name: str | None = None,
    ) -> Entry:
        """An entry for a noun that is about to be written."""
        made = Entry(kind, name, before, after, None if former_name == name else former_name)
        self._entries.append(made)
        return made

    def insert(self, table: type[Base], rows: Sequence[tuple[Entry, Row]]) -> Sequence[int]:
        """Insert rows, all with the same columns, and give their keys in the same order."""
        if not rows:
            return []
        more: Row = {}
        if issubclass(table, Editable):
            more = {"created_at": self._change.created_at, "version": self.number}
        assert self.number
        stored = _table(table)
        keys = new_keys(self.session, stored, len(rows))
        found = [{"id": key, **row, **more} for key, (_, row) in zip(keys, rows, strict=True)]
        self.session.execute(insert(stored), found)
        drop_derived(self.session, stored, found)
        for (entry, _), row in zip(rows, found, strict=True):
            entry.keep(stored.name, None, image_of(row))
        return keys

    def update(self, entry: Entry, table: type[Base], key: int, values: Row) -> None:
        """Update one row; where rows of its table have versions, it gets the number of this change."""
        stored = _table(table)
        row = self.session.execute(select(*stored.c).where(stored.c.id == key)).one()
        if issubclass(table, Editable):
            values = {**values, "version": self.number}
        before = dict(row._mapping)
        self.session.execute(update(stored).where(stored.c.id == key).values(values))
        drop_derived(self.session, stored, [before, {**before, **values}])
        entry.keep(stored.name, image_of(before), image_of({**before, **values}))

    def delete(self, entry: Entry, table: type[Base], keys: Iterable[int]) -> None:
        """Delete rows with all that hangs on them."""
        assert self.number
        self._delete(entry, _table(table), list(keys))

    def _delete(self, entry: Entry, table: Table, keys: Sequence[int]) -> None:
        for start in range(0, len(keys), KEYS_AT_ONCE):
            part = keys[start : start + KEYS_AT_ONCE]
            for column in hanging_on(table):
                found = self.session.scalars(select(column.table.c.id).where(column.in_(part)))
                self._delete(entry, column.table, found.all())
            rows = self.session.execute(
                select(*table.c).where(table.c.id.in_(part)).order_by(table.c.id)
            ).all()
            drop_derived(self.session, table, [row._mapping for row in rows])
            for row in rows:
                entry.keep(table.name, image_of(dict(row._mapping)), None)
            self.session.execute(delete(table).where(table.c.id.in_(part)))

    def flush(self) -> None:
        """Write the entries made so far, and let go of them."""
        rows = [
            {
                "history_id": self.number,
                "kind": entry.kind,
                "name": entry.name,
                "former_name": entry.former_name,
                "before": entry.before,
                "after": entry.after,
                "images": entry.images,
            }
            for entry in self._entries
        ]
        if rows:
            self.session.execute(insert(_table(HistoryEntryRow)), rows)
        self._entries = []


def new_keys(session: Session, table: Table, number: int) -> Sequence[int]:
    """Keys for so many new rows, none of which was ever given before."""
    if session.get_bind().dialect.name == "sqlite":  # nobody else writes: the lock is ours
        last = session.execute(
            text("SELECT seq FROM sqlite_sequence WHERE name = :name"), {"name": table.name}
        ).scalar()
        return range((last or 0) + 1, (last or 0) + 1 + number)
    return session.scalars(
        text("SELECT nextval(pg_get_serial_sequence(:name, 'id')) FROM generate_series(1, :number)"),
        {"name": table.name, "number": number},
    ).all()


@cache
def hanging_on(table: Table) -> tuple[Column[Any], ...]:
    """Columns of other tables by which their rows are part of a row of this one."""
    return tuple(key.parent for key in pointing_at(table) if key.ondelete == "CASCADE")


@cache
def pointing_at(table: Table) -> tuple[Any, ...]:
    """Foreign keys of all tables that refer to this one."""
    return tuple(
        key
        for other in Base.metadata.sorted_tables
        for key in sorted(other.foreign_keys, key=lambda key: key.parent.name)
        if key.column.table is table
    )


def image_of(row: Mapping[str, Any]) -> Image:
    """A table row as JSON can hold it."""
    return {
        name: value.isoformat() if isinstance(value, dt.date) else value
        for name, value in row.items()
        if value is not None
    }


def _table(table: type[Base]) -> Table:
    found = table.__table__
    assert isinstance(found, Table)
    return found
