"""``plaitlog history``, ``undo`` and ``redo``: what was changed, and taking it back."""

from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from plaitlog.service.cli.options import AsJson, Database
from plaitlog.service.cli.output import as_json, result, say
from plaitlog.service.cli.workshop import engine, reading

if TYPE_CHECKING:
    from plaitlog.service.usecases.changes.history import ChangeInList

Number = Annotated[int | None, typer.Argument(help="Number of the change, as history tells it.")]


def register(app: typer.Typer) -> None:
    app.command("history")(history)
    app.command("undo")(undo)
    app.command("redo")(redo)


def history(
    context: typer.Context,
    name: Annotated[
        str | None, typer.Argument(metavar="[LABEL]", help="Label of a whip, or name of a cord or maker.")
    ] = None,
    limit: Annotated[int, typer.Option(min=1, help="At most so many changes.")] = 20,
    before: Annotated[int | None, typer.Option(help="Only changes before this one.")] = None,
    number: Annotated[
        int | None, typer.Option("--change", help="One change, with everything that it touched.")
    ] = None,
    json: AsJson = False,
    database: Database = None,
) -> None:
    """What was changed, the latest first: of the whole workshop, or of one whip, cord or maker."""
    from plaitlog.service.usecases.changes import history as histories

    with reading(context, database) as session:
        if number is not None:
            changes = [histories.change(session, number)]
        else:
            changes = histories.history(session, name=name, limit=limit, before=before)
    if json:
        as_json([_as_json(change) for change in changes])
        return
    if not changes:
        say("nothing in the history" + ("" if name is None else f" is about {name!r}"))
    for change in changes:
        _print(change, listed=name is not None or number is not None)


def undo(
    context: typer.Context, number: Number = None, json: AsJson = False, database: Database = None
) -> None:
    """Take a change back: the latest that holds, or the one of that number.

    Everything is again exactly as it was. Where a later change stands in the way, it is named.
    """
    _reverse(context, database, "undo", number, json)


def redo(
    context: typer.Context, number: Number = None, json: AsJson = False, database: Database = None
) -> None:
    """Make a change again that was undone: the one undone last, or the one of that number."""
    _reverse(context, database, "redo", number, json)


def _reverse(context: typer.Context, database: str | None, how: str, number: int | None, json: bool) -> None:
    from plaitlog.service.database import reading as reading_of
    from plaitlog.service.database import write
    from plaitlog.service.usecases.changes import undoing
    from plaitlog.service.usecases.changes.history import change

    found = engine(context, database)
    reverse = undoing.undo if how == "undo" else undoing.redo
    done = write(found, lambda session: reverse(session, number))
    with reading_of(found) as session:
        made, about = change(session, done.number), change(session, done.of)
    if json:
        as_json(_as_json(made))
        return
    subject = f" of {about.subject}" if about.subject else ""
    what = "undid" if done.action == "undo" else "did again:"
    result(f"{what} change {done.of} ({about.action}{subject}); this is change {done.number}")
    _print_entries(made)


SHOWN: Final = 20


def _print(change: "ChangeInList", *, listed: bool) -> None:
    when = change.created_at.astimezone().strftime("%Y-%m-%d %H:%M")
    head = [f"{change.number:>5}  {when}  {change.action}"]
    if change.of is not None:
        head.append(f"of change {change.of}")
    if change.subject:
        head.append(change.subject if change.of is None else f"({change.subject})")
    if change.actor:
        head.append(f"by {change.actor}")
    counted = ", ".join(f"{number} {_plural(kind, number)}" for kind, number in change.touched.items())
    state = ""
    if change.undone and change.of is None:
        state = " [undone]"
    elif not change.undoable and change.of is None:
        state = " [cannot be undone: made before changes were kept]"
    result(f"{' '.join(head)}: {counted or 'nothing is known of it'}{state}")
    if listed or sum(change.touched.values()) == 1:
        _print_entries(change)


def _print_entries(change: "ChangeInList") -> None:
    for entry in change.entries[:SHOWN]:
        result(f"       {entry.words}")
    hidden = sum(change.touched.values()) - len(change.entries[:SHOWN])
    if len(change.entries) >= SHOWN and hidden > 0:
        result(f"       ... and {hidden} more: plaitlog history --change {change.number} --json")


def _plural(kind: str, number: int) -> str:
    return kind if number == 1 or kind == "stock" else f"{kind}s"


def _as_json(change: "ChangeInList") -> dict[str, Any]:
    return {
        "number": change.number,
        "created_at": change.created_at.isoformat(),
        "actor": change.actor,
        "action": change.action,
        "subject": change.subject,
        "of": change.of,
        "undone": change.undone,
        "undoable": change.undoable,
        "touched": dict(change.touched),
        "entries": [
            {
                "kind": entry.kind,
                "name": entry.name,
                "former_name": entry.former_name,
                "before": entry.before,
                "after": entry.after,
                "words": entry.words,
            }
            for entry in change.entries
        ],
    }
