"""Revisions of the tables: which one a database is at, which there are, how to get from one to another."""

from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, text

from plaitlog.models.errors import DatabaseError, Finding

if TYPE_CHECKING:
    from alembic.config import Config


def current_revision(connection: Connection) -> str | None:
    """The revision a database is at; None for an empty one; DatabaseError where other tables are in it."""
    names = connection.dialect.get_table_names(connection)
    if "alembic_version" in names:
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        if found is not None:
            return str(found)
        names.remove("alembic_version")
    if names:
        raise DatabaseError(
            Finding(
                "foreign-database",
                f"{shown_name(connection.engine)} holds tables of another program ({names[0]}, ...)",
                "name another database; this one was left as it is",
            )
        )
    return None


def known_revisions() -> frozenset[str]:
    """Every revision that this version can read."""
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory.from_config(alembic_config()).walk_revisions()
    return frozenset(script.revision for script in scripts)


def migrate_to(connection: Connection, revision: str) -> None:
    """Run the migrations up to a revision (or down to ``base``) over a live connection, uncommitted."""
    from alembic import command

    config = alembic_config()
    config.attributes["connection"] = connection
    if revision == "base":
        command.downgrade(config, revision)
    else:
        command.upgrade(config, revision)


def alembic_config() -> "Config":
    from alembic.config import Config

    import plaitlog.migrations

    config = Config()
    config.set_main_option(
        "script_location", str(Path(plaitlog.migrations.__file__).parent).replace("%", "%%")
    )
    return config


def shown_name(engine: Engine) -> str:
    """The name of a database for messages: the file, or the address without its password."""
    if engine.dialect.name == "sqlite":
        return str(engine.url.database)
    return engine.url.render_as_string(hide_password=True)
