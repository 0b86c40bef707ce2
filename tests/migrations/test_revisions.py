"""Every revision, up and down, on both kinds of database."""

import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory
from pytest_alembic import MigrationContext
from pytest_alembic.tests import (
    test_model_definitions_match_ddl,
    test_single_head_revision,
    test_up_down_consistency,
    test_upgrade,
)
from sqlalchemy import Engine, inspect, text

from plaitlog.models.tables import Base, Derived
from plaitlog.service.migrate import HEAD
from plaitlog.service.revisions import alembic_config as configured

__all__ = [
    "test_model_definitions_match_ddl",
    "test_single_head_revision",
    "test_up_down_consistency",
    "test_upgrade",
]

CATALOGUES = {
    "sqlite": "SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'alembic%'"
    # SQLite keeps this table of its own, the highest keys given, once any table asked for it.
    " AND tbl_name NOT LIKE 'alembic%' AND name <> 'sqlite_sequence' ORDER BY 1, 2",
    "postgresql": "SELECT 'table', c.relname, c.relkind::text FROM pg_class c"
    " JOIN pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = 'public'"
    " AND c.relname NOT LIKE 'alembic%' ORDER BY 2",
}


@pytest.fixture
def alembic_config() -> Config:
    return configured()


@pytest.fixture
def alembic_engine(blank_engine: Engine) -> Engine:
    return blank_engine


def test_the_constant_names_the_newest_revision() -> None:
    assert ScriptDirectory.from_config(configured()).get_current_head() == HEAD


def test_going_down_to_nothing_leaves_nothing(
    alembic_runner: MigrationContext, alembic_engine: Engine
) -> None:
    alembic_runner.migrate_up_to("head")
    alembic_runner.migrate_down_to("base")
    with alembic_engine.connect() as connection:
        left = connection.execute(text(CATALOGUES[alembic_engine.dialect.name])).all()
    assert left == []


def test_constraints_are_those_of_the_tables(
    alembic_runner: MigrationContext, alembic_engine: Engine
) -> None:
    """Checks and foreign keys are not seen by autogeneration: compare what the database itself reports."""
    alembic_runner.migrate_up_to("head")
    migrated = _constraints(alembic_engine)
    alembic_runner.migrate_down_to("base")
    for metadata in (Base.metadata, Derived.metadata):
        metadata.create_all(alembic_engine)
    assert migrated == _constraints(alembic_engine)
    assert len(migrated) == len(Base.metadata.tables) + len(Derived.metadata.tables)


def _constraints(engine: Engine) -> dict[str, object]:
    seen = inspect(engine)
    return {
        name: (
            sorted((c["name"], c["sqltext"]) for c in seen.get_check_constraints(name)),
            sorted(
                # SQLite does not tell the name of a key that came to its table later.
                (
                    c["referred_table"],
                    c["constrained_columns"],
                    c["options"],
                    None if engine.dialect.name == "sqlite" else c["name"],
                )
                for c in seen.get_foreign_keys(name)
            ),
            sorted((c["name"], c["column_names"]) for c in seen.get_unique_constraints(name)),
            sorted((i["name"], i["column_names"], i["unique"]) for i in seen.get_indexes(name)),
            [(c["name"], str(c["type"]), c["nullable"]) for c in seen.get_columns(name)],
        )
        for name in seen.get_table_names()
        if not name.startswith("alembic")
    }
