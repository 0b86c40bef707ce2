"""Changes that can be undone: each noun touched has an entry with the rows as they were and are.

A change of revision 0001 holds lists of records; they become entries without rows, which can be looked at
and not undone. Keys are never given twice from here on, and readings have a version like everything else.
"""

import re
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

NAMED_BY = {
    "maker": "name",
    "cord": "name",
    "stock": "cord",
    "whip": "label",
    "rating": "whip",
    "reading": "whip",
}

history = sa.table(
    "history",
    sa.column("id", sa.Integer),
    sa.column("action", sa.String),
    sa.column("before", sa.JSON(none_as_null=True)),
    sa.column("after", sa.JSON(none_as_null=True)),
)
entries = sa.table(
    "history_entries",
    sa.column("id", sa.Integer),
    sa.column("history_id", sa.Integer),
    sa.column("kind", sa.String),
    sa.column("name", sa.String),
    sa.column("before", sa.JSON(none_as_null=True)),
    sa.column("after", sa.JSON(none_as_null=True)),
)


def upgrade() -> None:
    op.create_table(
        "history_entries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("history_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("former_name", sa.String(), nullable=True),
        sa.Column("before", sa.JSON(), nullable=True),
        sa.Column("after", sa.JSON(), nullable=True),
        sa.Column("images", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(
            ["history_id"], ["history.id"], name=op.f("fk_history_entries_history_id_history")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history_entries")),
    )
    for column in ("history_id", "name", "former_name"):
        op.create_index(op.f(f"ix_history_entries_{column}"), "history_entries", [column], unique=False)
    _lists_to_entries()
    with op.batch_alter_table("history") as table:
        table.drop_column("before")
        table.drop_column("after")
        table.add_column(sa.Column("of", sa.Integer(), nullable=True))
        table.create_foreign_key(op.f("fk_history_of_history"), "history", ["of"], ["id"])
        table.create_index(op.f("ix_history_of"), ["of"], unique=False)
    op.add_column("readings", sa.Column("version", sa.Integer(), nullable=False, server_default=sa.text("0")))
    if op.get_bind().dialect.name == "sqlite":
        for name in _tables():
            _rebuild(name, _keys_once)
    else:
        op.alter_column("readings", "version", server_default=None)


def downgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for name in _tables():
            _rebuild(name, _keys_again)
    else:
        op.drop_column("readings", "version")
    with op.batch_alter_table("history") as table:
        table.drop_index(op.f("ix_history_of"))
        table.drop_constraint(op.f("fk_history_of_history"), type_="foreignkey")
        table.drop_column("of")
        table.add_column(sa.Column("before", sa.JSON(), nullable=True))
        table.add_column(sa.Column("after", sa.JSON(), nullable=True))
    _entries_to_lists()
    op.drop_table("history_entries")


def _lists_to_entries() -> None:
    connection = op.get_bind()
    for number in connection.scalars(sa.select(history.c.id).order_by(history.c.id)).all():
        change = connection.execute(sa.select(history).where(history.c.id == number)).one()
        rows = [
            {"history_id": number, **_named(after or before), "before": before, "after": after}
            for before, after in _pairs(change.before, change.after)
        ]
        if rows:
            connection.execute(sa.insert(entries), rows)


def _pairs(before: Any, after: Any) -> list[tuple[Any, Any]]:
    """An import holds a list on each side, an edit one record."""
    if before is None and after is None:
        return []
    if isinstance(before, list) and isinstance(after, list):
        return list(zip(before, after, strict=True))
    return [(before, after)]


def _named(record: dict[str, Any]) -> dict[str, str]:
    kind = str(record["kind"])
    return {"kind": kind, "name": str(record[NAMED_BY[kind]])}


def _entries_to_lists() -> None:
    connection = op.get_bind()
    changes = sa.select(history.c.id, history.c.action).order_by(history.c.id)
    for number, action in connection.execute(changes).all():
        found = connection.execute(
            sa.select(entries.c.before, entries.c.after)
            .where(entries.c.history_id == number)
            .order_by(entries.c.id)
        ).all()
        before, after = [row.before for row in found], [row.after for row in found]
        if action == "edit" and len(found) == 1:
            sides = {"before": before[0], "after": after[0]}
        elif found:
            sides = {"before": before, "after": after}
        else:
            continue
        connection.execute(sa.update(history).where(history.c.id == number).values(sides))


def _tables() -> list[str]:
    return [name for name in sa.inspect(op.get_bind()).get_table_names() if name != "alembic_version"]


def _rebuild(name: str, change: Callable[[str, str], str]) -> None:
    """Make an SQLite table anew as its changed definition says; foreign keys must be off, or rows cascade.

    Its own text is changed and not read back as a table, which would lose the checks.
    """
    connection = op.get_bind()
    of_table = "SELECT sql FROM sqlite_schema WHERE tbl_name = :name AND type = :type AND sql IS NOT NULL"
    sql = connection.execute(sa.text(of_table), {"name": name, "type": "table"}).scalar_one()
    indexes = connection.execute(sa.text(of_table), {"name": name, "type": "index"}).scalars().all()
    changed = change(name, sql)
    connection.exec_driver_sql(re.sub(rf'CREATE TABLE "?{name}"?', f"CREATE TABLE new_{name}", changed))
    columns = ", ".join(f'"{row[1]}"' for row in connection.exec_driver_sql(f"PRAGMA table_info(new_{name})"))
    connection.exec_driver_sql(f"INSERT INTO new_{name} ({columns}) SELECT {columns} FROM {name}")
    connection.exec_driver_sql(f"DROP TABLE {name}")
    connection.exec_driver_sql(f"ALTER TABLE new_{name} RENAME TO {name}")
    for index in indexes:
        connection.exec_driver_sql(index)


def _keys_once(name: str, sql: str) -> str:
    if name == "readings":
        sql = _once(r"version INTEGER DEFAULT '?0'? NOT NULL", "version INTEGER NOT NULL", sql)
    sql = _once(rf",\s*CONSTRAINT pk_{name} PRIMARY KEY \(id\)", "", sql)
    return _once(r"\bid INTEGER NOT NULL", "id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT", sql)


def _keys_again(name: str, sql: str) -> str:
    if name == "readings":
        sql = _once(r",\s*version INTEGER NOT NULL", "", sql)
    sql = _once(r"\bid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT", "id INTEGER NOT NULL", sql)
    return f"{sql.rstrip().removesuffix(')').rstrip()}, \n\tCONSTRAINT pk_{name} PRIMARY KEY (id)\n)"


def _once(pattern: str, put: str, sql: str) -> str:
    changed, number = re.subn(pattern, put, sql, flags=re.IGNORECASE)
    if number != 1:
        raise RuntimeError(f"{pattern} stands {number} times in {sql}")
    return changed
