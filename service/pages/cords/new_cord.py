"""A new cord: measurements go in, the diameters of its plaits come out while one types; then it is kept."""

from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import parse_qsl, urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import InputError
from plaitlog.service import errors
from plaitlog.service.database import reading, write
from plaitlog.service.pages.cords.data import hands, resting
from plaitlog.service.pages.cords.new_cord_told import steps_data, told_data
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.refusals import findings_of, told
from plaitlog.service.pages.rendering import go_to, page, part, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.adding import add_record
from plaitlog.service.usecases.cords.editing import field_of
from plaitlog.service.usecases.cords.new_cord import as_record, construction_of, tried
from plaitlog.service.usecases.cords.steps import steps_of
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.workshop import cords_by_name
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)
TYPED: Final = (
    "weighed_length",
    "grams",
    "ten_strands",
    "touching",
    "pressed",
    "material",
    "construction",
    "over",
    "name",
    "notes",
)
OF_THE_RECORD: Final = {"flat_width": "ten_strands", "diameter": "touching", "linear_density": "grams"}


@routes.get("/new-cord")
def show(request: Request, database: Database) -> Response:
    """The form, and what comes out, from what stands in the address; ``like``: material as that cord."""
    asked = {key: request.query_params.get(key, "") for key in TYPED}
    if "use" in request.query_params:  # a slip is put right, and the address is that of what was meant
        used = {key: text for key, text in parse_qsl(request.query_params["use"]) if key in TYPED}
        return go_to(f"/new-cord?{urlencode({**asked, **used})}")
    with reading(database) as session:
        like = cords_by_name(session).get(request.query_params.get("like", ""))
        if like is not None:
            asked = {**asked, "material": like.material, "construction": like.construction}
        data = _data(session, asked, {})
    return page(request, "new_cord.html", data)


@routes.post("/new-cord/tried")
def tried_part(database: Database, form: Posted) -> Response:
    """What comes out, for the script of the page; nothing is written."""
    with reading(database) as session:
        data = _told(session, form.texts())
    return part("_new_cord_told.html", data)


@routes.post("/new-cord")
def keep(request: Request, database: Database, form: Posted) -> Response:
    """Keep the cord; a refusal shows the form with everything that was typed."""
    typed = form.texts()
    shown = preferences().shown
    try:
        record = as_record(typed, shown)
        added = write(database, lambda session: add_record(session, record))
    except InputError as error:
        with reading(database) as session:
            data = _data(session, typed, _wrong(error))
        return page(request, "new_cord.html", data, errors.status(error))
    name = added.stored.record["name"]
    return go_to(f"{path_of('cords', name)}?kept=yes&change={added.number}")


def _data(session: Session, typed: Mapping[str, str], wrong: Mapping[str, Any]) -> dict[str, Any]:
    found = _told(session, typed)
    return {
        **found,
        "typed": {key: typed.get(key, "") for key in TYPED} | {"construction": construction_of(typed)},
        "materials": sorted({cord.material for cord in cords_by_name(session).values()}),
        "diameters": preferences().shown.diameters,
        "wrong": {**found["wrong"], **wrong},
        "again": bool(wrong),
    }


def _told(session: Session, typed: Mapping[str, str]) -> dict[str, Any]:
    in_force = fit_in_force(session)
    shown = preferences().shown
    known = cords_by_name(session)
    maker = hands(in_force)
    found = tried(in_force, known, typed, shown, maker)
    steps = None if found.told else steps_of(in_force, known.values(), maker)
    return {
        **told_data(found, shown),
        "steps": None if steps is None else steps_data(steps, shown),
        **resting(in_force),
    }


def _wrong(error: InputError) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for finding in findings_of(error):
        key = OF_THE_RECORD.get(field_of(finding.where), field_of(finding.where))
        found.setdefault(key if key in TYPED else "", told(finding))
    return found
