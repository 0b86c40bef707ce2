"""Images of table rows, kept by the journal, back into rows; what a whole change did to each row."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Column, Date, Select, Table, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, UndoError
from plaitlog.models.tables import Base, HistoryEntryRow
from plaitlog.models.tables.base import UtcDateTime
from plaitlog.service.usecases.changes.journal import KEYS_AT_ONCE, Image, Row

RowKey = tuple[str, int]
"""Name of a table and key of one of its rows."""

ENTRIES_AT_ONCE: Final = 500


@dataclass(frozen=True, slots=True)
class RowChange:
    """One row as it is to be found, and as it is to be left; None: not there."""

    found: Row | None
    left: Row | None


def row_changes(session: Session, number: int, *, backwards: bool) -> dict[RowKey, RowChange]:
    """What a change did to each row it touched, or with ``backwards`` what takes that back.

    Raises
    ------
    UndoError
        Its rows were not kept, or fit no longer into the tables.
    """
    net: dict[RowKey, list[Image | None]] = {}
    # A server keeps a cursor open for what is read bit by bit, and wants it closed.
    with closing(session.scalars(_images(number))) as every:
        for entry in every:
            if entry is None:
                raise _not_kept(number)
            for name, pairs in entry.items():
                for before, after in pairs:
                    net.setdefault((name, (before or after)["id"]), [before, None])[1] = after
    if not net:
        raise _not_kept(number)
    changes = {}
    for key, (before, after) in net.items():
        table = table_named(key[0], number)
        images = (after, before) if backwards else (before, after)
        found, left = (row_of(table, image, number) for image in images)
        if found is not None or left is not None:
            changes[key] = RowChange(found, left)
    return changes


def nouns_touched(session: Session, number: int) -> dict[RowKey, tuple[str, str]]:
    """The rows a change touched, each with kind and name of its noun; none where rows were not kept."""
    query = (
        select(HistoryEntryRow.kind, HistoryEntryRow.name, HistoryEntryRow.images)
        .where(HistoryEntryRow.history_id == number, HistoryEntryRow.images.is_not(None))
        .execution_options(yield_per=ENTRIES_AT_ONCE)
    )
    return {
        (table, (before or after)["id"]): (kind, name)
        for kind, name, images in session.execute(query)
        for table, pairs in images.items()
        for before, after in pairs
    }


def rows_by_key(session: Session, keys: Iterable[RowKey]) -> dict[RowKey, Row]:
    """Those of the rows that are there now."""
    by_table: dict[str, list[int]] = {}
    for name, key in keys:
        by_table.setdefault(name, []).append(key)
    found: dict[RowKey, Row] = {}
    for name, wanted in by_table.items():
        table = Base.metadata.tables[name]
        for part in parts_of(wanted):
            for row in session.execute(select(*table.c).where(table.c.id.in_(part))):
                found[name, row.id] = dict(row._mapping)
    return found


def parts_of(keys: Sequence[Any]) -> Iterable[Sequence[Any]]:
    return (keys[start : start + KEYS_AT_ONCE] for start in range(0, len(keys), KEYS_AT_ONCE))


def table_named(name: str, number: int) -> Table:
    table = Base.metadata.tables.get(name)
    if table is None:
        raise _of_an_older_version(number, f"there is no table {name} any more")
    return table


def row_of(table: Table, image: Mapping[str, Any] | None, number: int) -> Row | None:
    """The row an image shows; columns that came later have what they have where nothing is known."""
    if image is None:
        return None
    unknown = image.keys() - table.c.keys()
    if unknown:
        raise _of_an_older_version(number, f"{table.name} has no {min(unknown)} any more")
    row = {}
    for column in table.c:
        value = image.get(column.name)
        row[column.name] = _default(column, number) if value is None else _value(column, value)
    return row


def _value(column: Column[Any], value: Any) -> Any:
    if isinstance(column.type, UtcDateTime):
        return dt.datetime.fromisoformat(value)
    if isinstance(column.type, Date):
        return dt.date.fromisoformat(value)
    return value


def _default(column: Column[Any], number: int) -> Any:
    if column.nullable:
        return None
    if column.default is not None and column.default.is_scalar:
        return column.default.arg  # type: ignore[attr-defined]
    raise _of_an_older_version(number, f"{column.table.name} must have {column.name} by now")


def _images(number: int) -> Select[Any]:
    return (
        select(HistoryEntryRow.images)
        .where(HistoryEntryRow.history_id == number)
        .order_by(HistoryEntryRow.id)
        .execution_options(yield_per=ENTRIES_AT_ONCE)
    )


def _not_kept(number: int) -> UndoError:
    return UndoError(
        Finding(
            "not-kept",
            f"change {number} was made before changes could be undone",
            "its records as they were are in the history: edit them by hand",
        )
    )


def _of_an_older_version(number: int, why: str) -> UndoError:
    return UndoError(
        Finding(
            "older-rows",
            f"change {number} was made by an older version, and {why}",
            "its records as they were are in the history: edit them by hand",
        )
    )
