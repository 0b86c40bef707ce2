"""Predict the diameter of a stack, layer by layer, and how many strands give a diameter."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from plaitlog.service.database import reading
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.predicting.asked import Asked, asked_in_address, asked_in_form
from plaitlog.service.pages.predicting.data import answered, at_first
from plaitlog.service.pages.rendering import go_to, page, part
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.workshop import cords_by_name, makers
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)


@routes.get("/predict")
def predict(request: Request, database: Database) -> Response:
    """The stack of the address; without one a common stack to begin with."""
    return page(request, "predict.html", _data(database, asked_in_address(request.query_params)))


@routes.post("/predict")
def predicted(request: Request, database: Database, form: Posted) -> Response:
    """The form as it was sent: to the address that keeps it where it can be answered, else shown again."""
    data = _data(database, asked_in_form(form))
    if form.text("do") in ("", "show") and not data["refused"] and not data["counts_refused"]:
        return go_to(data["address"])
    wrong = form.text("do") in ("", "show")
    return page(request, "predict.html", data, 422 if wrong else 200)


@routes.post("/predict/answer")
def answer(request: Request, database: Database, form: Posted) -> Response:
    """What changes while one types, for the page's script."""
    return part("_predict.html", _data(database, asked_in_form(form)))


def _data(database: Database, asked: Asked | None) -> dict[str, Any]:
    shown = preferences().shown
    with reading(database) as session:
        in_force = fit_in_force(session)
        cords = cords_by_name(session)
        named = makers(session)
    first = asked is None
    if asked is None:
        asked = at_first(in_force, cords, preferences().maker)
    data = answered(in_force, cords, named, asked, shown)
    # Without a cord nothing can be asked yet, which is said once and is no mistake in the layers.
    return {**data, "refused": None} if first and not cords else data
