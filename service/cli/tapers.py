"""``plaitlog taper``: the shape of one whip's thong in numbers, each with its uncertainty."""

from typing import Annotated

import typer

from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, findings, result, table, to_mend
from plaitlog.service.cli.workshop import reading


def register(app: typer.Typer) -> None:
    app.command("taper")(taper)


def taper(
    context: typer.Context,
    label: Annotated[str, typer.Argument(help="The whip's label.")],
    explain: Annotated[
        bool, typer.Option("--explain", help="Say of each parameter what it tells and how it is worked out.")
    ] = False,
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Tell the taper of a whip: its shape in words, then every taper parameter with its interval."""
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.handling.parameters import parameters_of
    from plaitlog.service.usecases.handling.taper_words import HEADS, rows, sentences, to_json
    from plaitlog.service.usecases.predicting import fit_in_force
    from plaitlog.service.usecases.workshop import cords_by_name, whip

    with reading(context, database) as session:
        found = whip(session, label)
        cords = cords_by_name(session)
        in_force = fit_in_force(session)
    told = parameters_of(in_force, found, cords)
    shown = shown_units()
    if json:
        as_json(to_json(told, shown))
    else:
        for sentence in sentences(told, shown):
            result(sentence)
        if told.parameters:
            result()
            table(HEADS, rows(told, shown), right=("value",))
        if explain and told.parameters:
            result()
            _explain(list(told.parameters))
        if told.findings:
            result()
            findings(told.findings)
    end(to_mend(told.findings), strict)


def _explain(names: list[str]) -> None:
    from plaitlog.models.handling.definitions import BY_NAME

    for name in names:
        one = BY_NAME[name]
        result(f"{one.title}: {one.says}; {one.how}")
