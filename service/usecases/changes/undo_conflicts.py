"""What stands in the way of taking a change back: rows that are not as the change left them any more."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Table, UniqueConstraint, and_, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding
from plaitlog.models.tables import Base, HistoryRow
from plaitlog.models.whip import FEELS
from plaitlog.service.usecases.changes.journal import Row, pointing_at
from plaitlog.service.usecases.changes.row_images import (
    RowChange,
    RowKey,
    nouns_touched,
    parts_of,
    rows_by_key,
)

NAMED_AT_MOST: Final = 3

ALIKE: Final[Mapping[str, tuple[str, ...]]] = {
    "cord_stock": ("cord_id", "colour", "lot"),
    "rating_sessions": ("whip_id", "by", "on", "hours_of_use", "compared_with_id"),
}
"""Columns that tell rows of a table apart for a maker, beside what the table itself keeps unique."""

_SHORT: Final = ("by", "on", "hours_of_use", "fall", "cracker", "compared_with_id", "notes", *FEELS)


@dataclass(frozen=True, slots=True)
class Conflict:
    """A row in the way, and why."""

    key: RowKey
    why: str


def conflicts(session: Session, changes: Mapping[RowKey, RowChange]) -> list[Conflict]:
    """Every reason why the rows cannot be left as wanted, or the first ones where there are many."""
    present = rows_by_key(session, changes)
    found = [
        Conflict(key, "was changed" if present.get(key) else "was removed")
        if change.found is not None
        else Conflict(key, "is there already")
        for key, change in changes.items()
        if present.get(key) != change.found
    ]
    return found or [
        *_hanging_on(session, changes),
        *_belonging_to_nothing(session, changes),
        *_alike(session, changes),
    ]


def _hanging_on(session: Session, changes: Mapping[RowKey, RowChange]) -> Iterator[Conflict]:
    """Rows that others added, and that refer to a row which is to go."""
    going: dict[str, list[int]] = {}
    for (table, key), change in changes.items():
        if change.left is None:
            going.setdefault(table, []).append(key)
    for name, keys in going.items():
        for foreign_key in pointing_at(Base.metadata.tables[name]):
            column = foreign_key.parent
            for part in parts_of(keys):
                for key, target in session.execute(select(column.table.c.id, column).where(column.in_(part))):
                    other = changes.get((column.table.name, key))
                    if other is None or (other.left is not None and other.left[column.name] == target):
                        yield Conflict((column.table.name, key), "was added")


def _belonging_to_nothing(session: Session, changes: Mapping[RowKey, RowChange]) -> Iterator[Conflict]:
    """Rows that are to be left, and refer to a row that others removed."""
    needed: set[RowKey] = set()
    for (name, _), change in changes.items():
        if change.left is None:
            continue
        for foreign_key in Base.metadata.tables[name].foreign_keys:
            target = change.left[foreign_key.parent.name]
            if target is not None:
                needed.add((foreign_key.column.table.name, target))
    unsure = {key for key in needed if key not in changes}
    there = rows_by_key(session, unsure)
    for key in needed:
        if key in changes:
            if changes[key].left is None:
                yield Conflict(key, "was removed")
        elif key not in there:
            yield Conflict(key, "was removed")


def _alike(session: Session, changes: Mapping[RowKey, RowChange]) -> Iterator[Conflict]:
    """Rows that have a name, place or identity which a row that is to be left would have too."""
    for (name, _), change in changes.items():
        if change.left is None:
            continue
        table = Base.metadata.tables[name]
        for columns in _identities(table):
            if change.found is not None and all(change.found[c] == change.left[c] for c in columns):
                continue
            if _is_within_what_comes_back(table, columns, change.left, changes):
                continue
            same = and_(*(table.c[c].is_not_distinct_from(change.left[c]) for c in columns))
            for row in session.execute(select(*table.c).where(same)):
                other = changes.get((name, row.id), RowChange(None, dict(row._mapping))).left
                if other and other["id"] != change.left["id"] and _as_short(other) == _as_short(change.left):
                    yield Conflict((name, row.id), "has its name or place now")


def _is_within_what_comes_back(
    table: Table, columns: tuple[str, ...], row: Row, changes: Mapping[RowKey, RowChange]
) -> bool:
    """Whether what the row belongs to comes back with it, so that nobody can have taken its place there."""
    targets = {
        (k.column.table.name, row[k.parent.name]) for k in table.foreign_keys if k.parent.name in columns
    }
    return any(key in changes and changes[key].found is None for key in targets)


def _as_short(row: Row) -> bool:
    """Two ratings are told apart by whether they are the short one of the whip itself, too."""
    return "limp_stiff" in row and all(row[name] is None for name in _SHORT)


def _identities(table: Table) -> list[tuple[str, ...]]:
    found = [
        tuple(column.name for column in constraint.columns)
        for constraint in table.constraints
        if isinstance(constraint, UniqueConstraint)
    ]
    return [*found, ALIKE[table.name]] if table.name in ALIKE else found


def in_words(session: Session, number: int, found: list[Conflict]) -> tuple[Finding, ...]:
    """The changes that are in the way, the latest first, each with what it did."""
    wanted = {conflict.key for conflict in found}
    findings: list[Finding] = []
    seen = {number}
    events = select(HistoryRow.id, HistoryRow.action, HistoryRow.of).order_by(HistoryRow.id.desc())
    for event in session.execute(events):
        about = event.of or event.id
        if about in seen:
            continue
        seen.add(about)
        touched = nouns_touched(session, about)
        if nouns := {touched[key] for key in touched.keys() & wanted}:
            findings.append(_in_the_way(event, nouns))
            wanted -= touched.keys()
        if not wanted or len(findings) == NAMED_AT_MOST:
            break
    if wanted and not findings:
        table, why = found[0].key[0].replace("_", " "), found[0].why
        findings.append(
            Finding("changed-since", f"something in {table} {why} since", "edit the record by hand")
        )
    return tuple(findings)


def _in_the_way(event: Any, nouns: set[tuple[str, str]]) -> Finding:
    if event.of is None:
        what, remedy = f"change {event.id} ({event.action})", f"undo change {event.id} first"
    else:
        other = "redo" if event.action == "undo" else "undo"
        what = f"the {event.action} of change {event.of} (change {event.id})"
        remedy = f"{other} change {event.of} first"
    words = [_NOUN[kind].format(name) for kind, name in sorted(nouns)]
    more = f" and {len(words) - NAMED_AT_MOST} more" if len(words) > NAMED_AT_MOST else ""
    listed = ", ".join(words[:NAMED_AT_MOST])
    return Finding("changed-since", f"{what} has touched {listed}{more} since", remedy)


_NOUN: Final = {
    "maker": "maker {}",
    "cord": "cord {}",
    "stock": "stock of {}",
    "whip": "whip {}",
    "reading": "a reading of {}",
    "rating": "a rating of {}",
    "photo": "a photo of {}",
}
