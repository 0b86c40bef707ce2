"""Plan a whip: wanted diameters, layers, rules; several plans side by side; from a plan to the bench."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import AlreadyThereError, Finding, InputError, NotFoundError, PlaitlogError
from plaitlog.service.database import reading, write
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.planning import again as planning_again
from plaitlog.service.pages.planning.again import ahead_page, kept_again_page
from plaitlog.service.pages.planning.board import board_page
from plaitlog.service.pages.planning.fields import START, proposed, with_layer
from plaitlog.service.pages.planning.form import Asked, asked_in, field_of, place_unit, station_rows
from plaitlog.service.pages.planning.texts import texts_in_files
from plaitlog.service.pages.planning.wanted import wanted_data
from plaitlog.service.pages.refusals import findings_of
from plaitlog.service.pages.rendering import go_to, page, part, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.drafts import new_token, remove
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.planning.boards import (
    Board,
    add_plans,
    board,
    keep_typed,
    planned_again,
    room_for_more,
    take_away,
)
from plaitlog.service.usecases.planning.planning import Bench, bench_of, plan_for, plans_for
from plaitlog.service.usecases.planning.size_of_question import takes_long
from plaitlog.service.usecases.planning.starting import start_from_plan
from plaitlog.service.web_requests import Database, whole_number

routes = APIRouter(include_in_schema=False)
routes.include_router(planning_again.routes)
NOT_TYPED = ("do", "number", "start_label", "turn")
MORE_STATIONS = 4
CHOOSE = {
    "cord-not-found": "choose one of the list",
    "whip-not-found": "look at the list of whips",
    "counts": "the least first, 1 to 40",
    "cover": "the least below the most, 0 to 3",
}
"""What to do on a page where a file or the command line would be told of keys and commands."""


@routes.get("/plan")
def new(request: Request, database: Database) -> Response:
    """A form to begin with, or what lies ahead of a whip on the bench (``?replan=LABEL``)."""
    given = dict(request.query_params)
    with reading(database) as session:
        if "replan" in given:
            data = ahead_page(request, session, given["replan"])
            return page(request, "replan.html", data)
        data = board_page(request, session, new_token(), proposed(given))
    return page(request, "plan.html", data)


@routes.get("/plan/{token}")
def one(request: Request, database: Database, token: str) -> Response:
    """A plan as it was left; ``?question=2``: with the form as it was for plan 2."""
    with reading(database) as session:
        again = planned_again(session, token)
        if again is not None:
            return page(request, "replan.html", kept_again_page(request, session, token, again))
        found = _found(session, token)
        typed = found.typed
        number = whole_number(request.query_params.get("question", ""))
        if number is not None:
            typed = found.plan(number).typed
        data = board_page(request, session, token, {**START, **typed}, found)
    return page(request, "plan.html", data)


def _found(session: Session, token: str) -> Board:
    found = board(session, token)
    if found is None:
        raise NotFoundError(Finding("draft-not-found", "there is no such plan", "begin a new one"))
    return found


@routes.post("/plan/{token}/wanted")
def wanted(database: Database, token: str, form: Posted) -> Response:
    """The picture beside the form while one types; what is typed is kept."""
    typed = _typed(form)
    write(database, lambda session: keep_typed(session, token, typed, _turn(form), aside=True))
    with reading(database) as session:
        data = wanted_data(session, typed, preferences().shown)
    shown = preferences().shown
    return part("_plan_wanted.html", {**data, "lengths": place_unit(shown), "diameters": shown.diameters})


@routes.post("/plan/{token}")
def act(request: Request, database: Database, token: str, form: Posted) -> Response:
    """Plan it, with others beside it where that is wanted; or keep the form, with more rows."""
    do, typed = form.text("do"), _typed(form)
    if do.startswith("take-away"):
        number = whole_number(do.removeprefix("take-away").strip()) or 0
        write(database, lambda s: take_away(s, token, number))
        return go_to(f"/plan/{token}#plans")
    if do == "forget":
        write(database, lambda session: remove(session, token))
        return go_to("/plan")
    if do == "layer":
        typed = with_layer(typed)
    elif do == "station":
        typed = {**typed, "stations": str(station_rows(typed) + MORE_STATIONS)}
    elif do == "file":
        try:
            typed = {**START, **texts_in_files(form.files("file"))}
        except PlaitlogError as error:
            return _again(request, database, token, typed, {"file": error.finding}, [], 422)
    found = write(database, lambda session: keep_typed(session, token, typed, _turn(form)))
    if do not in ("plan", "beside"):
        anchor = {"layer": "#layers", "station": "#wanted"}.get(do, "")
        return go_to(f"/plan/{token}{anchor}")
    return _planned(request, database, found, beside=do == "beside")


def _planned(request: Request, database: Any, found: Board, *, beside: bool) -> Response:
    """At once where it is quick; else as a job that one may leave and come back to."""
    token, typed = found.token, found.typed
    asked = asked_in(typed, preferences().shown)
    if asked.wrong:
        return _again(request, database, token, typed, asked.wrong, [], 422)
    try:
        room_for_more(found)
        with reading(database) as session:
            bench: Bench = bench_of(session, asked.data)
        if takes_long(bench.order.asked, beside=beside):
            wanted = {"token": token, "spec": asked.data, "typed": dict(typed), "beside": beside}
            number = request.app.state.jobs.start("plan", wanted)
            return go_to(f"/jobs/{number}")
        told = plans_for(bench) if beside else plan_for(bench)
    except PlaitlogError as error:
        errors, others = _by_field(error, asked)
        return _again(request, database, token, typed, errors, others, 422)
    numbers = write(database, lambda session: add_plans(session, token, typed, asked.data, told))
    return go_to(f"/plan/{token}#plan-{numbers[0]}")


def _by_field(error: PlaitlogError, asked: Asked) -> tuple[dict[str, Finding], list[Finding]]:
    """What is to be mended beside its field, and what belongs to none."""
    errors: dict[str, Finding] = {}
    others: list[Finding] = []
    for one in findings_of(error):
        field = field_of(one, asked)
        if one.code in CHOOSE and ("plaitlog" in one.remedy or "[" in one.remedy):
            one = replace(one, remedy=CHOOSE[one.code])
        if field and field not in errors:
            errors[field] = one
        else:
            others.append(one)
    return errors, others


def _again(
    request: Request,
    database: Any,
    token: str,
    typed: Any,
    errors: dict[str, Finding],
    others: list[Finding],
    status: int,
    start: dict[str, str] | None = None,
) -> Response:
    """The form as it was typed, with what is to be mended."""
    with reading(database) as session:
        found = board(session, token)
        data = board_page(request, session, token, typed, found, errors=errors, others=others, start=start)
    return page(request, "plan.html", data, status)


@routes.post("/plan/{token}/start")
def start(request: Request, database: Database, token: str, form: Posted) -> Response:
    """Put the whip of a plan on the bench under a label, and keep the plan with it."""
    label, number = form.text("start_label"), form.text("number")
    with reading(database) as session:
        found = _found(session, token)
        plan = found.plan(whole_number(number) or 0)

    def begin(session: Session) -> int | None:
        if not label:
            text = "the whip has no label yet"
            raise InputError(Finding("missing", text, "write one, such as its year and number"))
        start_from_plan(session, label, {"spec": plan.spec, "layers": plan.layers})
        return latest_change(session)

    try:
        change = write(database, begin)
    except (InputError, AlreadyThereError) as error:
        refused = {"number": number, "label": label, "refused": f"{error.finding}"}
        status = 409 if isinstance(error, AlreadyThereError) else 422
        return _again(request, database, token, {**START, **found.typed}, {}, [], status, refused)
    return go_to(f"{path_of('sheets/whips', label)}?change={change}")


def _turn(form: Form) -> int:
    """Which of the saves of its page this is."""
    return form.number("turn") or 0


def _typed(form: Form) -> dict[str, str]:
    return {key: text for key, text in form.texts().items() if key not in NOT_TYPED}
