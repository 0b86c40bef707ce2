"""``plaitlog migrate``: bring the database up to date on purpose."""

import typer

from plaitlog.service.cli.options import Database
from plaitlog.service.cli.output import result
from plaitlog.service.cli.workshop import engine


def register(app: typer.Typer) -> None:
    app.command("migrate")(migrate)


def migrate(context: typer.Context, database: Database = None) -> None:
    """Create the database, or bring an older one up to date after copying it.

    Every other command does the same by itself when it needs to.
    """
    from plaitlog.service.migrate import HEAD

    found = engine(context, database)
    result(f"{found.url.render_as_string(hide_password=True)} is at revision {HEAD}")
