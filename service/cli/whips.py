"""``plaitlog whips`` and ``plaitlog show``: look at what is recorded."""

from typing import Annotated

import typer

from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, findings, result, say, table
from plaitlog.service.cli.workshop import reading


def register(app: typer.Typer) -> None:
    app.command("whips")(whips)
    app.command("show")(show)


def whips(context: typer.Context, json: AsJson = False, database: Database = None) -> None:
    """List every whip."""
    from plaitlog.service.preferences import length_shown
    from plaitlog.service.usecases.workshop import whips_in_brief

    with reading(context, database) as session:
        found = whips_in_brief(session)
    if json:
        as_json(
            [
                {
                    "label": whip.label,
                    "maker": whip.maker,
                    "type": whip.type,
                    "status": whip.status,
                    "made_on": whip.made_on and whip.made_on.isoformat(),
                    "thong_length_mm": whip.thong_length_mm,
                    "layers": whip.layers,
                    "readings": whip.readings,
                }
                for whip in found
            ]
        )
        return
    if not found:
        say("No whip is recorded yet: plaitlog record, plaitlog import FILE, or plaitlog demo to look round.")
        return
    table(
        ("label", "maker", "type", "status", "made on", "thong", "layers", "readings"),
        [
            (
                whip.label,
                whip.maker,
                whip.type,
                whip.status,
                whip.made_on,
                length_shown(whip.thong_length_mm),
                whip.layers,
                whip.readings,
            )
            for whip in found
        ],
        right=("thong", "layers", "readings"),
    )


def show(
    context: typer.Context,
    label: Annotated[str, typer.Argument(help="The whip's label.")],
    drawing: Annotated[
        str | None,
        typer.Option(
            metavar="FILE",
            help="Draw it instead: a file ending in .svg, .png or .pdf; - prints a table of its stations.",
        ),
    ] = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """Show one whip in words: its layers inside out, readings beside predictions, what is missing."""
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.describing import describe
    from plaitlog.service.usecases.missing.what_is_missing import what_is_missing
    from plaitlog.service.usecases.planning.beside_plan import beside_plan
    from plaitlog.service.usecases.predicting import fit_in_force
    from plaitlog.service.usecases.reviewing import place_in_table, review
    from plaitlog.service.usecases.turn_angles import turn_angles
    from plaitlog.service.usecases.weighing import expected_or_none
    from plaitlog.service.usecases.workshop import cords_by_name, whip

    with reading(context, database) as session:
        if drawing is not None:
            from plaitlog.service.cli.drawing import show_drawing

            show_drawing(session, label, drawing, json=json)
            return
        found = whip(session, label)
        cords = cords_by_name(session)
        in_force = fit_in_force(session)
    weighed = expected_or_none(in_force, found, cords)
    turns = turn_angles(in_force, found, cords)
    beside = beside_plan(in_force, found, cords)
    reviewed = review(in_force, found, cords)
    told = what_is_missing(in_force, found, cords)
    units = shown_units()
    if json:
        from plaitlog.service.usecases.to_records import whip_record

        weighing = None if weighed is None else weighed.to_json()
        known = {**whip_record(found), "review": reviewed.to_json(), "weighing": weighing}
        known["beside_plan"] = None if beside is None else beside.to_json()
        known["turn_angles"] = [turn.to_json() for turn in turns]
        as_json({**known, **told.to_json(units)})
        return
    for line in describe(found, units, readings=False):
        result(line)
    if reviewed.lines:
        result()
        result(f"Readings beside what is expected ({in_force.rests_on}):")
        table(
            ("at", "measured", "on", "expected", "90 %", ""),
            [line.cells(units) for line in sorted(reviewed.lines, key=place_in_table)],
            right=("at", "measured", "expected"),
        )
    if turns:
        result()
        result(f"Measured turns, on the diameters expected ({in_force.rests_on}):")
    for turn in turns:
        result(f"  {turn.words(units)}")
    if weighed is not None:
        from plaitlog.service.cli.weights import weight_lines

        result()
        for line in weight_lines(found, weighed, units):
            result(line)
    if beside is not None:
        from plaitlog.service.cli.plan_tables import print_beside

        print_beside(beside, found, units)
    result()
    for line in told.lines(units):
        result(line)
    rest = [finding for finding in reviewed.findings if finding.code != "far-from-prediction"]
    if rest:
        result()
        findings(rest)
