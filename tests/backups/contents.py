"""Everything that a database holds, in a form in which two databases of any kind can be compared."""

import hashlib
import json
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, func, select

from plaitlog.models.tables import Base
from plaitlog.service.database import open_engine, reading

DATA = Path(__file__).parents[1] / "data"
FIRST = DATA / "backup-of-revision-0001.db"
"""A backup that the first released version made of an invented workshop ..."""
FIRST_EXPORT = DATA / "backup-of-revision-0001.jsonl"
"""... and what that version exported from it."""

Content = dict[str, list[str]]


def content(engine: Engine) -> Content:
    """Every row of every table, by its key."""
    with reading(engine) as session:
        return {
            name: [
                json.dumps(list(row), default=str, sort_keys=True)
                for row in session.execute(select(*table.c).order_by(table.c.id))
            ]
            for name, table in Base.metadata.tables.items()
        }


def content_of_file(file: Path) -> Content:
    engine = open_engine(str(file))
    found = content(engine)
    engine.dispose()
    return found


def digest(found: Content) -> str:
    return hashlib.sha256(json.dumps(found, sort_keys=True).encode()).hexdigest()


def counts(engine: Engine) -> dict[str, Any]:
    with reading(engine) as session:
        return {
            name: session.scalar(select(func.count()).select_from(table))
            for name, table in Base.metadata.tables.items()
        }
