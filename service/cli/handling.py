"""``plaitlog handling``: which taper parameters go with good ratings."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, findings, result, say, table, to_mend
from plaitlog.service.cli.workshop import reading

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from plaitlog.models.whip import Whip
    from plaitlog.service.usecases.handling.answer import Answer
    from plaitlog.service.usecases.shown_units import ShownUnits


def register(app: typer.Typer) -> None:
    app.command("handling")(handling)


def handling(
    context: typer.Context,
    quality: Annotated[
        list[str] | None,
        typer.Option(metavar="QUALITY", help="ease, volley, accuracy, roll-out, recovery, tracking, ..."),
    ] = None,
    kind: Annotated[
        str | None, typer.Option("--type", metavar="TYPE", help='Only whips of this type: "stock whip".')
    ] = None,
    everything: Annotated[
        bool,
        typer.Option("--all", help="Every parameter, of every quality unless one is named, and its price."),
    ] = False,
    like: Annotated[
        str | None,
        typer.Option(metavar="LABEL|PLAN", help="Also the rated whips most like this one, or a plan.json."),
    ] = None,
    candidates: Annotated[
        list[str] | None,
        typer.Option("--try", metavar="LABEL|PLAN", help="Which of these would teach most; give several."),
    ] = None,
    report: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Also write handling.html and handling.json there.")
    ] = None,
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Tell which taper parameters go with good ratings, and what may be claimed of it.

    Asked is one quality (overall unless named) against six parameters named beforehand, so that few whips
    can answer; --all looks at everything, and says what that costs.
    """
    from plaitlog.models.whip import QUALITIES
    from plaitlog.service.cli.fit_reports import check_folder
    from plaitlog.service.cli.progress import bar
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.handling.answer import Question, qualities_meant
    from plaitlog.service.usecases.handling.answer import handling as answered
    from plaitlog.service.usecases.handling.answer_json import to_json

    unnamed = QUALITIES if everything else ("overall",)
    qualities = qualities_meant(quality) if quality else unnamed
    if report is not None:
        check_folder(report)
    with reading(context, database) as session, bar() as progress:
        question = Question(
            qualities=qualities,
            type=kind,
            everything=everything,
            like=None if like is None else _whip(session, like),
            candidates=tuple(_whip(session, one) for one in candidates or ()),
        )
        found = answered(session, question, progress=progress)
    shown = shown_units()
    if report is not None:
        _write(found, shown, report)
    if json:
        as_json(to_json(found, shown))
    else:
        _print(found, shown)
    end(to_mend(found.findings), strict)


def _whip(session: "Session", named: str) -> "Whip":
    """A recorded whip by its label, or that of a plan.json by the file's name."""
    from plaitlog.service.cli.planning import spec_of
    from plaitlog.service.usecases.planning.starting import planned_whip
    from plaitlog.service.usecases.workshop import whip

    if not named.endswith(".json"):
        return whip(session, named)
    plan = spec_of(Path(named))
    return planned_whip(session, str(plan.get("label") or named), plan)


def _print(found: "Answer", shown: "ShownUnits") -> None:
    from plaitlog.models.handling.spoken import spoken
    from plaitlog.service.usecases.handling.answer_words import parts, summary
    from plaitlog.service.usecases.handling.words import HEADS, NOT_CAUSE, cells, price

    for sentence in summary(found, shown):
        result(sentence)
    result(NOT_CAUSE)
    for quality in found.question.qualities:
        ranked = found.associations.ranked(quality)
        result()
        result(f"{spoken(quality).capitalize()}, the strongest evidence first:")
        table(HEADS, [cells(one) for one in ranked], right=HEADS[1:-1])
    result(price(found.associations))
    for part in parts(found, shown):
        result()
        result(f"{part.title}:")
        for sentence in part.sentences:
            result(f"  {sentence}")
    findings(found.findings)


def _write(found: "Answer", shown: "ShownUnits", folder: Path) -> None:
    """``handling.html`` and ``handling.json`` in the folder, each all of it or nothing."""
    import json as json_text

    from plaitlog.service.cli.exporting import written
    from plaitlog.service.reports.handling_page import handling_page
    from plaitlog.service.usecases.handling.answer_json import to_json
    from plaitlog.service.usecases.handling.reporting import report_of

    data = json_text.dumps(to_json(found, shown), ensure_ascii=False, allow_nan=False, indent=2)
    for name, text in (
        ("handling.html", handling_page(report_of(found, shown))),
        ("handling.json", f"{data}\n"),
    ):
        with written(folder / name) as stream:
            stream.write(text.encode())
    say(f"handling.html and handling.json are in {folder}")
