"""``plaitlog plan --interactive``: asks for what is missing of a plan, with a proposal for each answer."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from plaitlog.models.errors import InputError, PlaitlogError
from plaitlog.service.cli.asking import ask
from plaitlog.service.cli.output import say

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

INTRODUCTION = "Enter takes what stands in [brackets]; ? helps; Ctrl-C leaves, nothing is written."


def asked_at_prompt(session: "Session", data: dict[str, Any]) -> dict[str, Any]:
    """The data with an answer to every question it left open; each answer is checked when it is typed.

    Raises
    ------
    typer.Exit
        Where the input ends, or it is broken off.
    """
    import typer

    from plaitlog.service.usecases.planning.questions import Questions, workshop_words

    say(INTRODUCTION)
    questions = Questions(workshop_words(session), data)
    try:
        while (question := questions.next()) is not None:
            _ask(question.ask, question.proposal, question.help, questions.answer)
    except (EOFError, KeyboardInterrupt, typer.Abort):
        say()
        say("Left; nothing was written.")
        raise typer.Exit(1) from None
    return questions.data


def _ask(text: str, proposal: str, help_: str, answer: Callable[[str], None]) -> None:
    """Ask until the answer can be taken."""
    while True:
        typed = ask(f"{text}{f' [{proposal}]' if proposal else ''}: ")
        if typed == "?":
            say(f"  {help_}")
            continue
        try:
            answer(typed or proposal)
        except (InputError, PlaitlogError) as error:
            say(f"  {error}")
            continue
        return
