"""``plaitlog advise``: what to plait and to measure of a cord, so that wanted stacks are sure."""

from typing import Annotated

import typer

from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, findings, result, table
from plaitlog.service.cli.predicting import diameter_meant, pairs
from plaitlog.service.cli.workshop import reading


def register(app: typer.Typer) -> None:
    app.command("advise")(advise)


def advise(
    context: typer.Context,
    cord: Annotated[str, typer.Argument(metavar="CORD", help="The cord to be learnt.")],
    for_: Annotated[
        str | None, typer.Option("--for", metavar="DIAMETER", help="Stacks of it of this diameter matter.")
    ] = None,
    stack: Annotated[
        list[str] | None,
        typer.Option(metavar="STACK", help='This stack matters: "core 6A; overlay 16A"; several times.'),
    ] = None,
    letter: Annotated[
        list[str] | None, typer.Option("--letter", metavar='A="Ridge 4 mm"', help="With --stack.")
    ] = None,
    like: Annotated[
        str | None, typer.Option(metavar="LABEL", help="The stacks of this whip matter, ...")
    ] = None,
    swap: Annotated[
        list[str] | None, typer.Option(metavar="OLD=NEW", help="... with this cord instead of that.")
    ] = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """Say which short test plait or measurement of a cord narrows predictions most, and by how much."""
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.usecases.cords import advising
    from plaitlog.service.usecases.cords.short_plaits import RATE
    from plaitlog.service.usecases.names import cord_meant
    from plaitlog.service.usecases.predicting import CAUTION, fit_in_force
    from plaitlog.service.usecases.wanted_stacks import wanted_stacks
    from plaitlog.service.usecases.workshop import cords_by_name, whip

    shown = shown_units()
    with reading(context, database) as session:
        in_force = fit_in_force(session)
        cords = cords_by_name(session)
        meant = cord_meant(cord, cords)
        wanted = wanted_stacks(
            in_force,
            cords,
            meant,
            size_mm=None if for_ is None else diameter_meant(for_, "--for"),
            stacks=stack or (),
            letters=pairs(letter or [], "--letter"),
            like=None if like is None else whip(session, like),
            swaps=pairs(swap or [], "--swap"),
        )
    advice = advising.advise(in_force, meant, wanted)
    if json:
        as_json(advice.to_json(shown))
        return
    for sentence in advice.sentences(shown):
        result(sentence)
    result(f"{advice.rests_on}. {CAUTION}")
    if advice.proposals:
        result()
        table(
            ("strands", "over", "length", "readings", "minutes", "90 % then", "narrower"),
            [
                (
                    proposal.plait.strands,
                    shown.diameter(proposal.plait.foundation_mm),
                    shown.length(proposal.plait.length_mm),
                    len(proposal.plait.read_at_mm),
                    f"{proposal.plait.minutes:.0f}",
                    advice.half(proposal.worth.half_mm, shown),
                    f"{100 * proposal.worth.narrower:.0f} %",
                )
                for proposal in advice.proposals
            ],
            right=("strands", "over", "length", "readings", "minutes", "90 % then", "narrower"),
        )
        result(f"Minutes: {RATE}.")
        result()
        result("Once it is plaited, fill in the diameters and import this line:")
        result(advice.record_line or "")
    findings(in_force.findings)
