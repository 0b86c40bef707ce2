"""``plaitlog card``: a page to print and fill in by hand at the bench."""

from pathlib import Path
from typing import Annotated

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.output import say


def register(app: typer.Typer) -> None:
    app.command("card")(card)


def card(
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="A file ending in .pdf, .svg or .png.")
    ] = Path("card.pdf"),
    type_: Annotated[
        str | None,
        typer.Option("--type", help="bullwhip, stock whip, snake whip, signal whip, cow whip, test plait."),
    ] = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
) -> None:
    """Make a page to fill in by hand at the bench, in the order in which record asks.

    Numbers without a unit are meant in the units you type; print it at its full size, as often as you like.
    """
    from plaitlog.service.cli.picture_files import check_kind, write_picture
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.reports.blank_card import to_svg
    from plaitlog.service.usecases.pictures.carding import blank_card
    from plaitlog.service.usecases.recording.questions import TYPES

    check_kind(out)
    if type_ is not None and type_ not in TYPES:
        raise InputError(
            Finding("type-unknown", f"--type: {type_!r} is not known", f"write one of {', '.join(TYPES)}")
        )
    if paper == "a4":
        drawn = to_svg(blank_card(type_, shown_units()), "a4")
    elif paper == "letter":
        drawn = to_svg(blank_card(type_, shown_units()), "letter")
    else:
        raise InputError(Finding("paper-unknown", f"--paper: {paper!r} is not known", "write a4 or letter"))
    write_picture(out, drawn)
    say(f"The card is in {out}.")
