"""Measuring one whip at the bench: a reading at a time."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, PlaitlogError, StaleEditError
from plaitlog.service.database import reading, write
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.measuring.data import run_data, setup_data
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page, part, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.measuring.asking import setup_typed
from plaitlog.service.usecases.measuring.expecting import on_bench
from plaitlog.service.usecases.measuring.runs import Run, begin_run, kept_run
from plaitlog.service.usecases.measuring.taking import end_run, pass_over, take_back, take_reading
from plaitlog.service.web_requests import Database, Name

routes = APIRouter(include_in_schema=False)


@routes.get("/measure/{label:name}")
def bench(request: Request, database: Database, label: Name) -> Response:
    """The run that is under way; where none is, what is to be measured is asked first."""
    query = request.query_params
    with reading(database) as session:
        run = kept_run(session, label)
        if run is not None and "anew" not in query and (run.due is not None or "done" in query):
            return page(request, "measure.html", _run(session, label, run))
        data = setup_data(on_bench(session, label).whip, preferences().shown, run)
    return page(request, "measure_start.html", data)


@routes.post("/measure/{label:name}")
def step(request: Request, database: Database, label: Name, form: Posted) -> Response:
    """Begin a run, take a reading, pass a station over, take the last step back, or end it.

    A page with a script asks for the ``part`` that changes instead of going on to the page.
    """
    if form.text("do") == "begin":
        return _begin(request, database, label, form)
    is_part = form.text("part") == "yes"
    try:
        run = write(database, lambda session: _stepped(session, label, form))
    except InputError as error:
        # What was typed is told beside the field, and stays in it.
        status = 409 if isinstance(error, StaleEditError) else 422
        with reading(database) as session:
            kept = kept_run(session, label)
            if kept is None:
                raise
            refused = {"refused": _told(error), "typed": form.raw("size")}
            data = {**_run(session, label, kept), **refused}
        # To a script the answer is a good one: a browser would complain of any other on its console.
        return part("_measuring.html", data) if is_part else page(request, "measure.html", data, status)
    if is_part:
        with reading(database) as session:
            return part("_measuring.html", _run(session, label, run))
    return go_to(path_of("measure", label) + ("" if run.due is not None else "?done=yes"))


def _begin(request: Request, database: Database, label: str, form: Form) -> Response:
    shown = preferences().shown
    try:
        write(
            database,
            lambda session: begin_run(
                session, label, setup_typed(on_bench(session, label).whip, form.texts(), shown)
            ),
        )
    except InputError as error:
        with reading(database) as session:
            data = setup_data(on_bench(session, label).whip, shown, None)
        data |= {"refused": _told(error), "typed": {**data["typed"], **form.texts()}}
        return page(request, "measure_start.html", data, 422)
    return go_to(path_of("measure", label))


def _stepped(session: Session, label: str, form: Form) -> Run:
    number = form.text("step")
    at = int(number) if number.isdecimal() and len(number) < 6 else -1
    do = form.text("do")
    if do == "back":
        return take_back(session, label, at)
    if do == "pass":
        return pass_over(session, label, at)
    if do == "end":
        return end_run(session, label)
    if not form.text("size"):
        raise InputError(
            Finding("nothing-typed", "nothing was typed", "type the reading, then Enter", "size")
        )
    return take_reading(session, label, form.text("size"), at, preferences().shown)


def _run(session: Session, label: str, run: Run) -> dict[str, Any]:
    return run_data(on_bench(session, label), run, preferences().shown)


def _told(error: PlaitlogError) -> dict[str, str]:
    return told(error.finding)
