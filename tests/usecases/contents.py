"""What stands in the tables, row by row and as a hash, for tests that something left no trace."""

import hashlib
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine, select

from plaitlog.models.tables import Base

HISTORY = ("history", "history_entries")


def contents(engine: Engine) -> Mapping[str, list[tuple[Any, ...]]]:
    """Every row of every table but those of the history; keys, versions and instants included."""
    with engine.connect() as connection:
        return {
            table.name: [tuple(row) for row in connection.execute(select(*table.c).order_by(table.c.id))]
            for table in Base.metadata.sorted_tables
            if table.name not in HISTORY
        }


def content_hash(engine: Engine) -> str:
    return hashlib.sha256(repr(contents(engine)).encode()).hexdigest()
