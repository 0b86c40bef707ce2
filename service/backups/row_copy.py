"""Copy the rows of all tables from one database to another of the same revision, whatever its kind."""

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Any, Final

from sqlalchemy import JSON, Connection, MetaData, Table, func, insert, select, text

BATCH: Final = 1_000
PICTURES: Final = "photo_contents"
PICTURES_AT_ONCE: Final = 20
"""Each may be a megabyte."""
NOT_COPIED: Final = "alembic_version"


def tables_of(connection: Connection) -> list[Table]:
    """The tables of a database, parents before children, without the one that names the revision."""
    metadata = MetaData()
    metadata.reflect(connection)
    for table in metadata.tables.values():
        for column in table.columns:
            if isinstance(column.type, JSON):
                column.type = JSON(none_as_null=True)
    return [table for table in metadata.sorted_tables if table.name != NOT_COPIED]


def copy_rows(source: Connection, target: Connection) -> None:
    """Fill the empty tables of ``target``; keys stay as they are."""
    there = {table.name: table for table in tables_of(target)}
    for table in tables_of(source):
        order = [column.asc() for column in table.primary_key.columns]
        batch_of = PICTURES_AT_ONCE if table.name == PICTURES else BATCH
        rows = source.execution_options(stream_results=True, yield_per=batch_of).execute(
            select(*table.columns).order_by(*order)
        )
        for batch in rows.mappings().partitions():
            target.execute(insert(there[table.name]), list(_written(batch, target.dialect.name)))
    if target.dialect.name == "postgresql":
        _continue_counting(target, list(there.values()))


def _written(rows: Sequence[Any], dialect: str) -> Iterator[dict[str, Any]]:
    """SQLite knows no zones: it holds instants as naive UTC."""
    for row in rows:
        yield {
            key: _instant(value, dialect) if isinstance(value, dt.datetime) else value
            for key, value in row.items()
        }


def _instant(value: dt.datetime, dialect: str) -> dt.datetime:
    aware = value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)
    return aware.replace(tzinfo=None) if dialect == "sqlite" else aware


def _continue_counting(target: Connection, tables: Sequence[Table]) -> None:
    """New rows get keys after those that were copied, and after any that were ever given here."""
    for table in tables:
        column = table.autoincrement_column
        if column is None:
            continue
        highest = target.scalar(select(func.max(column)))
        if highest is not None:
            sequence = text(
                "SELECT setval(s, greatest(nextval(s), :highest)) FROM pg_get_serial_sequence(:table, :key) s"
            )
            target.execute(sequence, {"table": table.name, "key": column.name, "highest": highest})
