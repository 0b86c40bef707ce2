"""Opens the database that a command works on, up to date, and says what had to be done for that."""

from contextlib import AbstractContextManager
from typing import TYPE_CHECKING

import typer

from plaitlog.service.cli.output import say

if TYPE_CHECKING:
    from sqlalchemy import Engine
    from sqlalchemy.orm import Session


def location(context: typer.Context, database: str | None) -> str:
    """The database meant: the command's option, the program's, the environment, the user's own file."""
    from plaitlog.service.settings import Settings

    return database or context.obj or Settings().database


def engine(context: typer.Context, database: str | None) -> "Engine":
    """The engine of the database meant; it is created or migrated first where that is needed."""
    from plaitlog.service.migrate import ready_engine
    from plaitlog.service.settings import Settings

    settings = Settings()
    found, migration = ready_engine(
        location(context, database),
        busy_timeout_s=settings.busy_timeout_s,
        backups_kept=settings.backups_kept,
    )
    context.call_on_close(found.dispose)
    if migration is not None:
        say(str(migration))
    return found


def reading(context: typer.Context, database: str | None) -> "AbstractContextManager[Session]":
    """A session for looking only."""
    from plaitlog.service import database as databases

    return databases.reading(engine(context, database))
