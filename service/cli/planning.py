"""``plaitlog plan``: from wanted diameters to layers with drops, what comes out, what to cut."""

import json as json_text
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, findings, say, to_mend
from plaitlog.service.cli.workshop import engine

if TYPE_CHECKING:
    from collections.abc import Mapping

    from plaitlog.service.reports.bench_sheet import Paper
    from plaitlog.service.usecases.planning.planning import Bench, Told
    from plaitlog.service.usecases.planning.replanning import Replanned
    from plaitlog.service.usecases.shown_units import ShownUnits


def register(app: typer.Typer) -> None:
    app.command("plan")(plan)
    app.command("replan")(replan)
    app.command("start")(start)


def plan(
    context: typer.Context,
    spec: Annotated[
        Path | None,
        typer.Argument(metavar="[SPEC]", help="What is wanted, in JSON or TOML; - reads standard input."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Where plan.json, the bench sheet and the drawing go."),
    ] = None,
    interactive: Annotated[
        bool, typer.Option("--interactive", help="Ask for what SPEC leaves open.")
    ] = False,
    choices: Annotated[
        bool, typer.Option("--choices", help="Several good plans side by side, then the first of them.")
    ] = False,
    paper: Annotated[str, typer.Option(metavar="a4|letter", help="Paper of the bench sheet.")] = "a4",
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Plan a whip: the drops of every layer that follow the wanted diameters best, by the fit in force.

    Nothing is written to the record.
    """
    from plaitlog.service import database as databases
    from plaitlog.service.usecases.planning.plan_json import told_json
    from plaitlog.service.usecases.planning.planning import bench_of, plan_for, plans_for

    on_paper = _paper(paper)
    if spec is None and not interactive:
        raise InputError(
            Finding(
                "question-unclear", "nothing is asked", "name a file with what is wanted, or --interactive"
            )
        )
    data = {} if spec is None else spec_of(spec)
    found = engine(context, database)
    if interactive:
        from plaitlog.service.cli.plan_questions import asked_at_prompt

        with databases.reading(found) as session:
            data = asked_at_prompt(session, data)
    with databases.reading(found) as session:
        bench = bench_of(session, data)
    told = plans_for(bench) if choices else plan_for(bench)
    if out is not None:
        _write(told, data, out, on_paper)
    if json:
        as_json(told_json(told))
    else:
        _print(told)
    end(to_mend(told.findings()), strict)


def replan(
    context: typer.Context,
    label: Annotated[str, typer.Argument(help="The whip on the bench, by its label.")],
    spec: Annotated[
        Path | None,
        typer.Argument(
            metavar="[SPEC]",
            help="What is wanted, or a plan.json; without it: what the plan kept with the whip says.",
        ),
    ] = None,
    layer: Annotated[
        int | None, typer.Option(metavar="NUMBER", help="The layer on the bench, from 1, innermost.")
    ] = None,
    to: Annotated[
        str | None, typer.Option(metavar="PLACE", help="With --layer: how far it is plaited.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Where plan.json and the sheet of what is ahead go.")
    ] = None,
    record: Annotated[bool, typer.Option("--record", help="Record the new layers with the whip.")] = False,
    paper: Annotated[str, typer.Option(metavar="a4|letter", help="Paper of the bench sheet.")] = "a4",
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Plan again what is still ahead of a whip on the bench, by what was measured of it.

    Its recorded layers are those of the plan; drops behind the bench and layers that are done stay. Unless
    said otherwise the bench stands at the furthest reading on the outermost layer that was measured.
    Nothing is written to the record without --record.
    """
    from plaitlog.models.units import parse_length
    from plaitlog.service import database as databases
    from plaitlog.service.usecases.planning.plan_json import told_json
    from plaitlog.service.usecases.planning.replanning import Standing, record_replanned
    from plaitlog.service.usecases.planning.replanning import replan as planned_again

    on_paper, data = _paper(paper), None if spec is None else spec_of(spec)
    data = data if data is None else data.get("spec", data)
    if (layer is None) != (to is None):
        text = "--layer and --to say together how far the whip is"
        raise InputError(Finding("question-unclear", text, "give both or none"))
    standing = None if layer is None or to is None else Standing(layer, parse_length(to))
    found = engine(context, database)
    with databases.reading(found) as session:
        again = planned_again(session, label, data, standing)
    if out is not None:
        _write(again.told, again.spec, out, on_paper, again)
    if record:
        databases.write(found, lambda session: record_replanned(session, again))
    if json:
        as_json({**told_json(again.told), "point": again.point, "readings": len(again.readings)})
    else:
        say(f"{again.point_in(shown_for(again.told.bench))}; by {len(again.readings)} readings of {label}")
        _print(again.told)
    end(to_mend(again.told.findings()), strict)


def start(
    context: typer.Context,
    label: Annotated[str, typer.Argument(help="Label of the whip.")],
    plan: Annotated[
        Path | None,
        typer.Argument(metavar="[PLAN]", help="The plan.json it is made from; without it: a planned whip."),
    ] = None,
    database: Database = None,
) -> None:
    """Put a whip on the bench: one that is recorded as planned, or that of a plan, with its layers."""
    from plaitlog.service import database as databases
    from plaitlog.service.usecases.planning.starting import start_from_plan, start_planned

    found = engine(context, database)
    if plan is None:
        if not databases.write(found, lambda session: start_planned(session, label)):
            say("too little is known of its layers to say what is expected of it")
    else:
        data = spec_of(plan)
        databases.write(found, lambda session: start_from_plan(session, label, data))
    say(f"{label} is on the bench; record what is measured: plaitlog record {label}")


def _paper(typed: str) -> "Paper":
    if typed == "a4":
        return "a4"
    if typed == "letter":
        return "letter"
    raise InputError(Finding("unknown-word", f"--paper: {typed!r} is not known", "write a4 or letter"))


def spec_of(spec: Path) -> dict[str, Any]:
    """What stands in a file of JSON or TOML; - reads standard input."""
    from plaitlog.service.cli.reading_files import opened
    from plaitlog.service.usecases.planning.spec_file import LIMIT_BYTES, spec_data

    with opened(spec) as (stream, _):
        return spec_data(stream.read(LIMIT_BYTES + 1), str(spec))


def shown_for(bench: "Bench") -> "ShownUnits":
    """The user's units, but lengths in those of the plan's grid: no place lies between marks of a tape."""
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.planning.plan_words import on_the_tape_of

    return on_the_tape_of(bench, shown_units())


def _print(told: "Told") -> None:
    from plaitlog.service.cli.plan_tables import print_choices, print_plan

    shown = shown_for(told.bench)
    if told.choices:
        print_choices(told.choices, shown)
    print_plan(told, shown)
    expected = told.plan.expected
    said = () if expected is None else expected.findings
    findings(one for one in told.findings(shown) if one.code != "no-fit" and one not in said)


def _write(
    told: "Told", data: "Mapping[str, Any]", folder: Path, paper: "Paper", again: "Replanned | None" = None
) -> None:
    """Everything into the folder, which is made where it is not there."""
    from plaitlog.service.cli.exporting import written
    from plaitlog.service.cli.plan_pictures import sheet_files
    from plaitlog.service.usecases.planning.plan_json import told_json

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            Finding("file-unwritable", f"{folder} cannot be made: {error.strerror}", "name another folder")
        ) from error
    text = json_text.dumps(
        {**told_json(told), "spec": dict(data)}, ensure_ascii=False, allow_nan=False, indent=1
    )
    files = {"plan.json": f"{text}\n".encode(), **sheet_files(told, shown_for(told.bench), paper, again)}
    for name, content in files.items():
        with written(folder / name) as stream:
            stream.write(content)
    say(f"{', '.join(files)} are in {folder}")
