"""The command ``plaitlog``: one small file per group of commands, gathered here.

Command files import nothing heavy at the top, so that help and lists start at once; each function imports
the use case it calls.
"""

import sys
from importlib.metadata import version
from typing import Annotated, Any, Final

import typer
from typer.core import TyperGroup

from plaitlog.models.errors import ImportRefusedError, PlaitlogError, RecordError, UndoError
from plaitlog.service.cli import (
    advising,
    backing_up,
    carding,
    charting,
    cords,
    demo,
    doctor,
    editing,
    exporting,
    fitting,
    gaps,
    handling,
    history,
    importing,
    migrating,
    photos,
    planning,
    predicting,
    recording,
    serving,
    tapers,
    whips,
)
from plaitlog.service.cli.options import Database
from plaitlog.service.cli.output import say
from plaitlog.service.errors import WITH_FINDINGS, exit_code

SHOWN_REFUSALS: Final = 50


class Face(TyperGroup):
    """Turns the project's errors into a message on stderr and an exit code."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except PlaitlogError as error:
            say_error(error)
            raise typer.Exit(exit_code(error)) from error
        except BrokenPipeError:
            # Whoever reads the results has seen enough; the interpreter must not complain at its end.
            sys.stdout = open("/dev/null", "w")  # noqa: PTH123, SIM115
            raise typer.Exit(WITH_FINDINGS) from None

    def list_commands(self, ctx: Any) -> list[str]:
        """In the order of the work, not of the alphabet."""
        return list(self.commands)


def say_error(error: PlaitlogError) -> None:
    """What is wrong, where, and how to mend it; one line per refused row."""
    if isinstance(error, ImportRefusedError):
        for finding in error.findings[:SHOWN_REFUSALS]:
            say(str(finding))
        hidden = len(error.findings) - SHOWN_REFUSALS
        if hidden > 0:
            say(f"... and {hidden} more")
    if isinstance(error, RecordError | UndoError):
        for finding in error.findings[1:]:
            say(str(finding))
    say(f"plaitlog: {error}")


app = typer.Typer(
    cls=Face,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Record plaited whips, learn how thick each cord really comes out, predict the next whip.",
)


def show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"plaitlog {version('plaitlog')}")
        raise typer.Exit


@app.callback()
def common(
    context: typer.Context,
    database: Database = None,
    version: Annotated[
        bool, typer.Option("--version", callback=show_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    context.obj = database


for group in (
    demo,
    recording,
    importing,
    exporting,
    cords,
    whips,
    tapers,
    photos,
    editing,
    history,
    fitting,
    predicting,
    advising,
    handling,
    planning,
    gaps,
    carding,
    charting,
    serving,
    backing_up,
    doctor,
    migrating,
):
    group.register(app)


def main() -> None:
    """Entry point of the installed command."""
    app()
