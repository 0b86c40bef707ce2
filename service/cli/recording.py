"""``plaitlog record``: asks for one whip at the prompt; what was answered is kept when it is broken off."""

from typing import TYPE_CHECKING, Annotated

import typer

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.cli.asking import ask
from plaitlog.service.cli.options import Database
from plaitlog.service.cli.output import result, say
from plaitlog.service.cli.workshop import engine, location

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from plaitlog.service.usecases.recording.dialogue import Bench, Draft, Question

MANY_CHOICES = 30
ALIKE = 3
BROKEN_OFF = 1
COMMANDS = ("back", "?", "-")
INTRODUCTION = (
    "Enter takes what stands in [brackets], or passes over. - is not known, none is known to be absent, "
    "back goes back, ? helps. Ctrl-C keeps what you have so far."
)


def register(app: typer.Typer) -> None:
    app.command("record")(record)


def record(
    context: typer.Context,
    old: Annotated[
        bool, typer.Option("--old", help="An old whip from a notebook: only the main questions.")
    ] = False,
    anew: Annotated[
        bool, typer.Option("--anew", help="Put a whip that was broken off aside and begin anew.")
    ] = False,
    database: Database = None,
) -> None:
    """Record one whip by questions, in the order in which you have it in hand.

    Broken off at any question it goes on there the next time.
    """
    from plaitlog.service import database as databases
    from plaitlog.service.cli.drafts import draft_file
    from plaitlog.service.preferences import remember_units, remembered_units
    from plaitlog.service.usecases.importing import take_records
    from plaitlog.service.usecases.recording.bench import bench_of
    from plaitlog.service.usecases.recording.dialogue import Draft
    from plaitlog.service.usecases.recording.record import back, records, typed_units

    found = engine(context, database)
    file = draft_file(location(context, database))
    if anew and file.set_aside():
        say("The whip that was broken off is put aside.")
    draft = file.read()
    if draft is None:
        draft = Draft("old" if old else "new")
    else:
        label = draft.text("label") or "a whip without a label yet"
        say(f"Going on with {label}, broken off after {len(draft.answers)} answers (--anew begins anew).")
    with databases.reading(found) as session:
        bench = bench_of(session, remembered_units())
    say(INTRODUCTION)

    def keep(now: Draft) -> None:
        file.write(now)
        units = typed_units(now)
        if units is not None and units != bench.units:
            remember_units(units)

    try:
        while True:
            draft = _asked(draft, bench, keep)
            kept = _kept(draft, bench)
            if kept is not None:
                draft = kept
                break
            draft = back(draft)
            file.write(draft)
    except (EOFError, KeyboardInterrupt, typer.Abort):
        kept_so_far = file.read() or draft
        say()
        say(f"Kept {len(kept_so_far.answers)} answers. plaitlog record goes on from there.")
        raise typer.Exit(BROKEN_OFF) from None
    report = databases.write(
        found, lambda session: take_records(session, records(draft, bench), action="record")
    )
    file.remove()
    label = draft.text("label") or ""
    result(f"{label} is in the workshop, with {report.readings_added} readings.")
    say(f"plaitlog show {label!r} shows it; plaitlog fit learns from it.")


def _asked(draft: "Draft", bench: "Bench", keep: "Callable[[Draft], None]") -> "Draft":
    """Ask until no question is left; every answer is kept at once."""
    from plaitlog.service.usecases.recording.checks import look_over
    from plaitlog.service.usecases.recording.record import answer, back, next_question, proposal

    typed = ""
    listed: tuple[str, ...] = ()
    told: set[str] = set()
    while (question := next_question(draft, bench)) is not None:
        if question.choices and question.choices != listed:
            _list(question)
            listed = question.choices
        proposed = proposal(draft, question)
        start, typed = typed, ask(f"{question.ask}{f' [{proposed}]' if proposed else ''}: ", typed)
        if start and typed.removeprefix(start) in COMMANDS:
            typed = typed.removeprefix(start)  # typed behind a text that stood there already
        if typed == "?":
            say(f"  {question.help or 'Free text.'}")
            typed = ""
            continue
        if typed.casefold() == "back":
            typed = draft.answers[-1][1] if draft.answers else ""  # to be edited, not typed again
            draft = back(draft)
            keep(draft)
            continue
        try:
            taken = answer(draft, question, typed)
            findings = look_over(taken.draft, bench)
        except InputError as error:
            say(f"  {error}")
            continue
        draft, typed = taken.draft, ""
        keep(draft)
        if taken.echo:
            for line in taken.echo.splitlines():
                say(f"  = {line}")
        _remark([*taken.findings, *findings], told)
    return draft


def _remark(findings: "Sequence[Finding]", told: set[str]) -> None:
    """Say what was not said yet; of one sort of remark only the first few."""
    by_code: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.text not in told:
            told.add(finding.text)
            by_code.setdefault(finding.code, []).append(finding)
    for alike in by_code.values():
        for finding in alike[:ALIKE]:
            say(f"  note: {finding}")
        if len(alike) > ALIKE:
            say(f"  note: ... and {len(alike) - ALIKE} more like it")


def _list(question: "Question") -> None:
    """The choices, numbered, on one or a few lines."""
    if len(question.choices) <= MANY_CHOICES:
        say(
            "  " + "   ".join(f"{number} {choice}" for number, choice in enumerate(question.choices, start=1))
        )


def _kept(draft: "Draft", bench: "Bench") -> "Draft | None":
    """Show the whole whip in words and ask whether to keep it; None goes back a question."""
    from plaitlog.service.usecases.recording.checks import in_words

    say()
    for line in in_words(draft, bench):
        say(line)
    while True:
        typed = ask("Keep it? yes, or back to change something [yes]: ").casefold()
        if typed in {"", "y", "yes"}:
            return draft
        if typed in {"back", "n", "no"}:
            return None
        say("  type yes, or back; Ctrl-C keeps it for later")
