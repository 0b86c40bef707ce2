"""``plaitlog gaps``: the facts of the whole workshop that would narrow predictions most."""

from typing import Annotated

import typer

from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, findings, result
from plaitlog.service.cli.workshop import reading


def register(app: typer.Typer) -> None:
    app.command("gaps")(gaps)


def gaps(
    context: typer.Context,
    top: Annotated[int, typer.Option(min=1, help="List this many.")] = 10,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """List what is missing in the whole workshop, most worth first: what to measure, plait or look up."""
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.missing.gaps import gaps as find_gaps

    with reading(context, database) as session:
        found = find_gaps(session)
    if json:
        as_json(found.to_json(shown_units(), top))
        return
    for line in found.lines(shown_units(), top):
        result(line)
    findings(found.findings)
