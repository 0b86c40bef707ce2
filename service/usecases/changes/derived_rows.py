"""Dropping what was worked out from a whip as soon as any of its rows is written, whoever writes it."""

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

from sqlalchemy import Column, RowMapping, Table, delete, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import GatheredRow, WhipRow
from plaitlog.service.usecases.loading import in_parts

Row = Mapping[str, Any] | RowMapping


def drop_derived(session: Session, table: Table, rows: Iterable[Row]) -> None:
    """Drop what was worked out from the whips that these rows of a table are, or are part of.

    Rows of other tables (cords, makers) are looked up afresh by whoever uses what was worked out.
    """
    keys: set[int] = {row["id"] for row in rows} if table.name == WhipRow.__tablename__ else set()
    owner = _owner(table)
    if owner is not None:
        keys = {row[owner.name] for row in rows}
    while owner is not None:
        parent = _parent(owner)
        owner = _owner(parent)
        if owner is not None:
            keys = {
                key
                for part in in_parts(keys)
                for key in session.scalars(select(owner).where(parent.c.id.in_(part)).distinct())
            }
    for part in in_parts(keys):
        session.execute(delete(GatheredRow).where(GatheredRow.whip_id.in_(part)))


@cache
def _owner(table: Table) -> Column[Any] | None:
    """The column by which a row is part of a row of another table; None where it stands by itself."""
    return next((key.parent for key in table.foreign_keys if key.ondelete == "CASCADE"), None)


def _parent(column: Column[Any]) -> Table:
    (key,) = column.foreign_keys
    return key.column.table
