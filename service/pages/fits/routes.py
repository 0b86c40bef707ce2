"""What was learnt from the recorded whips, and what it is worth: the fit in force, or one by its number."""

from threading import Lock
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import BusyDatabaseError, Finding, FitError, InputError
from plaitlog.service.database import reading, write
from plaitlog.service.errors import status
from plaitlog.service.jobs import Jobs
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.fits.data import fit_line, odd_rows
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.jobs import job_data
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.adding_to_fit import add_whip, store_added
from plaitlog.service.usecases.changes.editing import edit_reading
from plaitlog.service.usecases.describing_fits import recorded
from plaitlog.service.usecases.fitting import FIT_RUNNING, FitInList, list_fits, not_found, put_in_force
from plaitlog.service.usecases.jobs import live_job
from plaitlog.service.usecases.showing_fit import shown_fit
from plaitlog.service.usecases.suspects import ask_again, leave, standings
from plaitlog.service.usecases.whips_in_fit import whips_unknown
from plaitlog.service.web_requests import Database, Key

routes = APIRouter(include_in_schema=False)
NAMED: Final = 200
"""Whips that a fit does not know, offered by name to be added."""


@routes.get("/fit")
def in_force(request: Request, database: Database) -> Response:
    return _shown(request, database)


@routes.get("/fits/{key}")
def one(request: Request, database: Database, key: Key) -> Response:
    return _shown(request, database, key)


@routes.post("/fit")
def make(request: Request, database: Database, form: Posted) -> Response:
    """Begin a fit as a job; where one is under way already, lead to that one."""
    lock: Lock = request.app.state.fitting
    if not lock.acquire(blocking=False):
        raise BusyDatabaseError(FIT_RUNNING)  # asked for by a program
    try:
        with reading(database) as session:
            running = live_job(session, "fit")
        jobs: Jobs = request.app.state.jobs
        evidence = form.text("how") == "evidence"
        number = running.number if running else jobs.start("fit", {"evidence": evidence})
    finally:
        lock.release()
    return go_to(f"/jobs/{number}?then=go")


@routes.post("/fits/{key}/in-force")
def take(database: Database, key: Key) -> Response:
    write(database, lambda session: put_in_force(session, key))
    return go_to("/fit")


@routes.post("/fit/whips")
def add(request: Request, database: Database, form: Posted) -> Response:
    """Add one whip to the fit in force."""
    label = form.text("whip")
    try:
        with reading(database) as session:
            added = add_whip(session, label)
        number = write(database, lambda session: store_added(session, added))
    except (InputError, FitError) as problem:
        return _shown(request, database, error=problem, whip=label)
    return go_to(f"/fits/{number}")


@routes.post("/fit/readings/{key}")
def decide(database: Database, key: Key, form: Posted) -> Response:
    """Decide on a reading that does not fit: it is doubtful, it was right, or that is open again."""
    decision = form.text("decision")
    if decision == "doubtful":
        version = form.number("version")
        done = write(database, lambda s: edit_reading(s, key, {"doubtful": True}, version=version))
        return go_to(f"/fit?change={done.number}#suspects" if done.number else "/fit#suspects")
    if decision not in {"leave", "again"}:
        raise InputError(Finding("decision", f"{decision!r} is no decision", "choose one of the buttons"))
    write(database, lambda session: (leave if decision == "leave" else ask_again)(session, key))
    return go_to("/fit#suspects")


def _shown(
    request: Request,
    database: Engine,
    number: int | None = None,
    error: InputError | FitError | None = None,
    whip: str = "",
) -> Response:
    with reading(database) as session:
        fits = list_fits(session)
        chosen = next((fit for fit in fits if number == fit.number or (number is None and fit.current)), None)
        if chosen is None and number is not None:
            raise not_found(session, number)
        running = live_job(session, "fit")
        data: dict[str, Any] = {
            "job": None if running is None else job_data(running),
            "fits": [fit_line(fit) for fit in fits],
            "error": None if error is None else told(error.finding),
            "whip": whip,
            "banner": banner(request, session),
        }
        if chosen is None:
            counted = recorded(session)
            data |= {"whips": counted.whips, "measured": counted.with_readings, "readings": counted.readings}
            return page(request, "fit_none.html", data, 200 if error is None else status(error))
        data |= _about(session, chosen)
    return page(request, "fit.html", data, 200 if error is None else status(error))


def _about(session: Session, fit: FitInList) -> dict[str, Any]:
    found = shown_fit(session, fit, preferences().shown)
    unknown = whips_unknown(session, fit.number)
    odd = odd_rows(found.content["odd"], standings(session, found.odd))
    return {
        "fit": {key: value for key, value in found.content.items() if key != "odd"},
        "current": fit.current,
        "stale": fit.stale,
        "added": fit.added,
        "unknown": None if unknown is None else len(unknown),
        "unknown_whips": (unknown or [])[-NAMED:],
        "to_decide": [row for row in odd if not row["decided"]],
        "decided": [row for row in odd if row["decided"]],
    }
