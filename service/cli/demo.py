"""``plaitlog demo``: an invented workshop, fitted, with a prediction for a cord that was never plaited."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plaitlog.models.errors import DatabaseError, Finding
from plaitlog.service.cli.output import findings, result, say

if TYPE_CHECKING:
    from sqlalchemy import Engine

FILE = "demo.db"


def register(app: typer.Typer) -> None:
    app.command("demo")(demo)


def demo(
    context: typer.Context,
    into: Annotated[
        str | None,
        typer.Option(
            "--into", metavar="FILE|URL", help="Fill this empty database instead of the demo's own."
        ),
    ] = None,
) -> None:
    """Make an invented workshop, fit it, show how good the fit is, predict a cord nobody plaited yet.

    The demo has a database file of its own, which is made anew each time; your records stay untouched.
    """
    from plaitlog.seed_demo.workshop import TYPICAL_STACK, seed
    from plaitlog.service import database as databases
    from plaitlog.service.cli.fitting import print_fit
    from plaitlog.service.cli.predicting import print_answer
    from plaitlog.service.filling import fill_gathered
    from plaitlog.service.schemas.prediction import QueryIn
    from plaitlog.service.usecases.fitting import gather, store, weighed_whips, work_out
    from plaitlog.service.usecases.predicting import fit_in_force
    from plaitlog.service.usecases.predicting_lines import Reader
    from plaitlog.service.usecases.workshop import cords_by_name

    engine, place = _empty(into) if into is not None else _own()
    context.call_on_close(engine.dispose)
    say("An invented workshop; no maker, cord or whip in it exists.")
    made = databases.write(engine, seed)
    result(
        f"{place}: {made.whips} whips and {made.test_plaits} test plaits, {made.cords} cords, "
        f"{made.readings} readings, {made.rating_sessions} rating sessions."
    )
    fill_gathered(engine)
    with databases.reading(engine) as session:
        gathered, weighed = gather(session), weighed_whips(session)
    say(f"Fitting {len(gathered.readings)} readings, then holding out whips, cords and makers in turn ...")
    worked = work_out(gathered, weighed)
    number = databases.write(engine, lambda session: store(session, worked))
    print_fit(number, worked)
    with databases.reading(engine) as session:
        in_force = fit_in_force(session)
        query = Reader(cords_by_name(session)).query(QueryIn.model_validate(TYPICAL_STACK, strict=False))
    told = in_force.predict([query])[0]
    result()
    result(f"{TYPICAL_STACK['id']} ({_layers(TYPICAL_STACK['layers'])}):")
    print_answer(in_force, told, "reading")
    findings(told.findings)
    say()
    say(f"Look round:  plaitlog --database {place} whips")
    say(f"What goes with good volleys?  plaitlog --database {place} handling --quality volley")


def _layers(layers: list[dict[str, object]]) -> str:
    return ", ".join(f"{layer['role']} of {layer['strands']} {layer['cord']}" for layer in layers)


def _own() -> "tuple[Engine, str]":
    """The demo's own database, made anew."""
    from plaitlog.service.migrate import ready_engine
    from plaitlog.service.settings import data_folder

    file = data_folder() / FILE
    for tail in ("", "-wal", "-shm"):
        Path(f"{file}{tail}").unlink(missing_ok=True)
    engine, _ = ready_engine(str(file))
    return engine, str(file)


def _empty(into: str) -> "tuple[Engine, str]":
    """The database named, which must hold no record."""
    from plaitlog.service import database as databases
    from plaitlog.service.migrate import ready_engine
    from plaitlog.service.usecases.workshop import is_empty

    engine, migration = ready_engine(into)
    if migration is not None:
        say(str(migration))
    name = str(engine.url.render_as_string(hide_password=True))
    with databases.reading(engine) as session:
        if not is_empty(session):
            raise DatabaseError(
                Finding(
                    "not-empty",
                    f"{name} holds records already",
                    "name an empty database, or leave --into out",
                )
            )
    return engine, into if "://" not in into else name
