"""``plaitlog predict``: one stack, a file of stacks, a known whip in another cord, how many strands."""

import gc
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, finding_json, findings, result, say, table
from plaitlog.service.cli.workshop import reading

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from plaitlog.models.calibration.prediction import Prediction
    from plaitlog.models.whip import Cord
    from plaitlog.service.usecases.predicting import InForce

NEAREST = 6
"""How many counts the answer to "how many strands" shows."""


def register(app: typer.Typer) -> None:
    app.command("predict")(predict)


def predict(
    context: typer.Context,
    stack: Annotated[
        str | None,
        typer.Argument(metavar="[STACK]", help='Layers inside out: "core 6A; belly 12A; overlay 16B".'),
    ] = None,
    letter: Annotated[
        list[str] | None,
        typer.Option("--letter", metavar='A="Ridge 4 mm"', help="The cord that a letter names."),
    ] = None,
    cord: Annotated[str | None, typer.Option(help="The single cord, where there is only one.")] = None,
    for_: Annotated[
        str | None, typer.Option("--for", metavar="DIAMETER", help="How many strands of --cord for this?")
    ] = None,
    over: Annotated[
        str | None, typer.Option(metavar="DIAMETER", help="With --for: the body that is plaited over.")
    ] = None,
    like: Annotated[str | None, typer.Option(metavar="LABEL", help="A whip of the workshop, ...")] = None,
    swap: Annotated[
        list[str] | None, typer.Option(metavar="OLD=NEW", help="... with this cord instead of that.")
    ] = None,
    stacks: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Questions as JSON Lines; - reads from standard input."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="With --stacks: where the answers go.")
    ] = None,
    maker: Annotated[
        str | None, typer.Option(help="Whose hands; an unknown maker widens the interval.")
    ] = None,
    condition: Annotated[
        str | None, typer.Option(help="fresh, rolled (as if unsaid), waxed or broken in.")
    ] = None,
    at: Annotated[str | None, typer.Option(metavar="PLACE", help="The station, where it matters.")] = None,
    interval: Annotated[
        str, typer.Option(help="reading: for the next caliper reading; true: for the diameter itself.")
    ] = "reading",
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Predict how thick a stack of layers comes out, with an interval, from the fit in force."""
    from plaitlog.service.usecases.predicting import fit_in_force
    from plaitlog.service.usecases.workshop import cords_by_name

    chosen = [x is not None for x in (stack, for_, like, stacks)]
    if sum(chosen) != 1:
        raise _unclear(
            "nothing is asked" if not any(chosen) else "several things are asked at once",
            "give a stack, or --stacks, or --like, or --cord with --for; see plaitlog predict --help",
        )
    kind = _interval(interval)
    wanted = Wanted(maker, condition_meant(condition), kind, json, strict)
    with reading(context, database) as session:
        in_force = fit_in_force(session)
        cords = cords_by_name(session)
        if like is not None:
            from plaitlog.service.cli.predicting_whip import predict_like
            from plaitlog.service.usecases.workshop import whip

            predict_like(in_force, cords, whip(session, like), pairs(swap or [], "--swap"), wanted)
            return
    if stacks is not None:
        _predict_lines(in_force, cords, stacks, out, wanted)
    elif stack is not None:
        _predict_stack(in_force, cords, stack, pairs(letter or [], "--letter"), cord, at, wanted)
    else:
        assert for_ is not None
        _predict_count(in_force, cords, cord, for_, over, wanted)


class Wanted:
    """How a prediction is asked for and given out."""

    def __init__(
        self,
        maker: str | None,
        condition: Any,
        interval: Literal["reading", "true"],
        json: bool,
        strict: bool,
    ) -> None:
        self.maker = maker
        self.condition = condition
        self.interval = interval
        self.json = json
        self.strict = strict


def _unclear(text: str, remedy: str) -> InputError:
    return InputError(Finding("question-unclear", text, remedy))


def _interval(typed: str) -> Literal["reading", "true"]:
    if typed == "reading":
        return "reading"
    if typed == "true":
        return "true"
    raise _unclear(f"--interval: {typed!r} is not known", "write reading or true")


def condition_meant(typed: str | None) -> str | None:
    """A condition as typed, one of those there are."""
    from plaitlog.models.whip import CONDITIONS

    if typed is None or typed in CONDITIONS:
        return typed
    raise _unclear(f"--condition: {typed!r} is not known", f"write {', '.join(CONDITIONS)}")


def pairs(texts: list[str], option: str) -> dict[str, str]:
    pairs = {}
    for text in texts:
        old, equals, new = text.partition("=")
        if not equals or not old.strip() or not new.strip():
            raise _unclear(f"{option}: {text!r} has no = between two names", f'write {option} "A=Ridge 4 mm"')
        pairs[old.strip()] = new.strip()
    return pairs


def diameter_meant(typed: str, option: str) -> float:
    """A diameter as typed behind an option, in mm."""
    from plaitlog.models.units import parse_diameter
    from plaitlog.service.preferences import shown_units

    try:
        return parse_diameter(typed, unit=shown_units().diameters)
    except InputError as error:
        raise InputError(error.finding.at(option)) from error


def _predict_lines(
    in_force: "InForce", cords: "Mapping[str, Cord]", stacks: Path, out: Path | None, wanted: Wanted
) -> None:
    from plaitlog.service.cli.exporting import written
    from plaitlog.service.cli.reading_files import opened
    from plaitlog.service.settings import Settings
    from plaitlog.service.usecases.predicting_lines import answer_lines, encoded

    if wanted.maker or wanted.condition:
        raise _unclear("--maker and --condition stand in the lines themselves", "leave them out here")
    answered = refused = remarked = 0
    say(in_force.rests_on)
    # Nothing here is tied in circles; looking for circles among so many objects takes half of the time.
    gc.disable()
    try:
        with opened(stacks) as (stream, _):
            batches = answer_lines(
                in_force, cords, stream, limit_bytes=Settings().line_limit_bytes, interval=wanted.interval
            )
            if out is None or str(out) == "-":
                for batch in batches:
                    answered, refused, remarked = _count(batch, answered, refused, remarked)
                    sys.stdout.buffer.write(encoded(batch))
                sys.stdout.buffer.flush()
            else:
                with written(out) as target:
                    for batch in batches:
                        answered, refused, remarked = _count(batch, answered, refused, remarked)
                        target.write(encoded(batch))
    finally:
        gc.enable()
    say(f"{answered} answered, {refused} could not be" + (f"; see {out}" if out else ""))
    end([None] * (refused + remarked), wanted.strict)


def _count(batch: list[dict[str, Any]], answered: int, refused: int, remarked: int) -> tuple[int, int, int]:
    wrong = sum("error" in line for line in batch)
    return (
        answered + len(batch) - wrong,
        refused + wrong,
        remarked + sum(bool(line.get("findings")) for line in batch),
    )


def _predict_stack(
    in_force: "InForce",
    cords: "Mapping[str, Cord]",
    text: str,
    letters: dict[str, str],
    cord: str | None,
    at: str | None,
    wanted: Wanted,
) -> None:
    from plaitlog.models.calibration.prediction import Query
    from plaitlog.models.units import parse_length
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.predicting_lines import prediction_json
    from plaitlog.service.usecases.predicting_stacks import is_inner_stack, stack_findings, typed_stack

    stack = typed_stack(text, cords, letters, cord)
    query = Query(
        stack=stack,
        maker=wanted.maker,
        condition=wanted.condition,
        at_mm=None if at is None else parse_length(at, unit=shown_units().lengths),
        inner=is_inner_stack(stack),
    )
    told = in_force.predict([query], wanted.interval)[0]
    remarks = (*stack_findings(stack), *told.findings)
    if wanted.json:
        as_json({**prediction_json(told), "findings": [finding_json(x) for x in remarks]})
    else:
        print_answer(in_force, told, wanted.interval)
        findings(beside(remarks))
    end(remarks, wanted.strict)


def beside(remarks: "Iterable[Finding]") -> "list[Finding]":
    """The remarks that are not said already by what the prediction rests on."""
    return [finding for finding in remarks if finding.code != "no-fit"]


def print_answer(in_force: "InForce", told: "Prediction", interval: str) -> None:
    """The number first, then how sure it is and what it rests on."""
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.predicting import CAUTION

    shown = shown_units()
    sure = shown.interval(told.low_90_mm, told.high_90_mm)
    result(f"{shown.diameter(told.diameter_mm)} (90 %: {sure})  {CAUTION}")
    meant = "the next caliper reading" if interval == "reading" else "the diameter itself"
    result(f"half of the time {shown.interval(told.low_50_mm, told.high_50_mm)}; intervals are for {meant}")
    result(in_force.rests_on)
    if told.cover is not None:
        result(f"cover {told.cover:.2f}")


def _predict_count(
    in_force: "InForce",
    cords: "Mapping[str, Cord]",
    name: str | None,
    wanted_text: str,
    over_text: str | None,
    wanted: Wanted,
) -> None:
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.names import cord_meant
    from plaitlog.service.usecases.predicting import CAUTION
    from plaitlog.service.usecases.predicting_lines import prediction_json
    from plaitlog.service.usecases.predicting_stacks import cover_text, strands_for

    if name is None:
        raise _unclear("--for asks for a cord", 'add --cord "Ridge 4 mm"')
    cord = cord_meant(name, cords)
    wanted_mm = diameter_meant(wanted_text, "--for")
    over_mm = None if over_text is None else diameter_meant(over_text, "--over")
    if over_mm is not None and over_mm >= wanted_mm:
        raise _unclear("--over is not thinner than --for", "give the body under the plait")
    lines = strands_for(
        in_force,
        cord,
        wanted_mm,
        over_mm=over_mm,
        maker=wanted.maker,
        condition=wanted.condition,
        interval=wanted.interval,
    )
    best = lines[0]
    remarks = best.prediction.findings
    if wanted.json:
        as_json(
            {
                "wanted_mm": wanted_mm,
                "over_mm": over_mm,
                "cord": cord.name,
                "counts": [
                    {"strands": line.count, "pattern": line.pattern, **prediction_json(line.prediction)}
                    for line in lines
                ],
            }
        )
        end(remarks, wanted.strict)
        return
    shown = shown_units()
    told = best.prediction
    body = "over nothing" if over_mm is None else f"over {shown.diameter(over_mm)}"
    result(
        f"{best.count} strands of {cord.name}, {best.pattern}, {body}: {shown.diameter(told.diameter_mm)} "
        f"(90 %: {shown.interval(told.low_90_mm, told.high_90_mm)})  {CAUTION}"
    )
    result(in_force.rests_on)
    table(
        ("strands", "pattern", "comes out at", "off by", "90 %", "cover"),
        [
            (
                line.count,
                line.pattern,
                shown.diameter(line.prediction.diameter_mm),
                f"{line.off_mm(wanted_mm):+.1f} mm",
                shown.interval(line.prediction.low_90_mm, line.prediction.high_90_mm),
                cover_text(line.prediction),
            )
            for line in lines[:NEAREST]
        ],
        right=("strands", "comes out at", "off by", "90 %"),
    )
    well = next((line for line in lines if line.lies_well), None)
    if not best.lies_well and well is not None:
        comes_out = shown.diameter(well.prediction.diameter_mm)
        result(f"The nearest count that covers without bunching: {well.count} strands, {comes_out}.")
    findings(beside(remarks))
    end(remarks, wanted.strict)
