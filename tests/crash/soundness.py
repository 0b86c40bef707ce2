"""What must hold of a database whatever was killed: sound pages, no orphan, no whip without its readings."""

from sqlalchemy import Engine, func, select, text

from plaitlog.models.tables import Base, ReadingRow, WhipRow
from plaitlog.service.database import reading


def assert_sound(engine: Engine, readings_per_whip: int) -> set[str]:
    """The labels of all whips, each of which has all its readings."""
    with reading(engine) as session:
        if engine.dialect.name == "sqlite":
            assert session.execute(text("PRAGMA integrity_check")).scalar() == "ok"
            assert session.execute(text("PRAGMA foreign_key_check")).first() is None
        joined = select(WhipRow.label, func.count(ReadingRow.id)).outerjoin(
            ReadingRow, ReadingRow.whip_id == WhipRow.id
        )
        rows = session.execute(joined.group_by(WhipRow.label)).all()
        found = {row[0]: row[1] for row in rows}
        half = [label for label, readings in found.items() if readings != readings_per_whip]
        assert half == []
        tables = Base.metadata.tables
        touched = session.scalar(
            select(func.count()).select_from(tables["history_entries"]).where(text("kind = 'whip'"))
        )
        assert touched == len(found), "a whip is there without its history, or the other way round"
    return set(found)
