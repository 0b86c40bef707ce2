"""Cords: the list, and one cord on one page with its stock."""

from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, NotFoundError, StaleEditError
from plaitlog.service import errors
from plaitlog.service.database import reading, write
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.cords.data import cord_data, hands, list_data
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.refusals import findings_of, told
from plaitlog.service.pages.rendering import go_to, page, path_of
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.adding import add_record
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.cords.editing import (
    CORD_FIELDS,
    LOT_FIELDS,
    cord_changes,
    field_of,
    lot_changes,
    lot_record,
)
from plaitlog.service.usecases.cords.listed import cords_listed
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.web_requests import Database, Name, whole_number

routes = APIRouter(include_in_schema=False)
DO: Final = ("edit", "remove", "lot-add", "lot-edit", "lot-remove")


@routes.get("/cords")
def list_all(request: Request, database: Database, q: str = "", order: str = "") -> Response:
    with reading(database) as session:
        in_force = fit_in_force(session)
        found = cords_listed(session, in_force, hands(in_force))
        data = list_data(found, in_force, q, order)
        return page(request, "cords.html", {**data, "banner": banner(request, session)})


@routes.get("/cords/{name:name}")
def one(request: Request, database: Database, name: Name, over: str = "", kept: str = "") -> Response:
    with reading(database) as session:
        data = cord_data(session, name, over)
        data = {**data, "kept": kept == "yes", "banner": banner(request, session)}
    return page(request, "cord.html", data, 422 if data["over_error"] else 200)


@routes.post("/cords/{name:name}")
def change(request: Request, database: Database, name: Name, form: Posted) -> Response:
    """What the button that was pressed says: of the cord itself, or of one lot of its stock."""
    do, _, lot = form.text("do").partition(" ")
    if do not in DO:
        raise InputError(Finding("form", "the form does not say what to do", "go back and try again"))
    try:
        address = write(database, lambda session: _done(session, name, do, lot, form))
    except NotFoundError:
        raise
    except InputError as error:
        with reading(database) as session:
            data = cord_data(
                session, name, "", form.texts(), _errors(error, f"-{lot or 'new'}" if "lot" in do else "")
            )
        data = {**data, "kept": False, "banner": None, "open": f"{do} {lot}".strip()}
        return page(request, "cord.html", data, errors.status(error))
    return go_to(address)


def _done(session: Session, name: str, do: str, lot: str, form: Form) -> str:
    """Carry it out; gives where to go on."""
    shown = preferences().shown
    if do == "edit":
        typed, was = _fields(form, CORD_FIELDS, "")
        version = _whole(form.text("version"))
        edited = editing.edit_cord(session, name, cord_changes(typed, was, shown), version=version)
        return _after(edited.record["name"], edited.number)
    if do == "remove":
        edited = editing.remove_cord(session, name, version=_whole(form.text("version")))
        return f"/cords?change={edited.number}"
    if do == "lot-add":
        typed, _ = _fields(form, LOT_FIELDS, "-new")
        return _after(name, add_record(session, lot_record(name, typed, shown)).number)
    key, version = _whole(lot), _whole(form.text(f"version-{lot}"))
    if do == "lot-edit":
        typed, was = _fields(form, LOT_FIELDS, f"-{lot}")
        edited = editing.edit_stock(session, key, lot_changes(typed, was, shown), version=version)
    else:
        edited = editing.remove_stock(session, key, version=version)
    return _after(name, edited.number)


def _fields(form: Form, fields: tuple[str, ...], ending: str) -> tuple[dict[str, str], dict[str, str]]:
    """What is typed, and what stood there when the form was shown, by field."""
    typed = {
        key: form.raw(f"{key}{ending}").replace("\r\n", "\n") for key in fields if form.has(f"{key}{ending}")
    }
    was = {key: form.raw(f"was-{key}{ending}").replace("\r\n", "\n") for key in fields}
    return typed, was


def _after(name: str, number: int | None) -> str:
    return path_of("cords", name) + ("" if number is None else f"?change={number}")


def _whole(text: str) -> int:
    found = whole_number(text)
    if found is None:
        raise InputError(Finding("form", "the form lacks a number", "reload the page and try again"))
    return found


def _errors(error: InputError, ending: str) -> dict[str, dict[str, str]]:
    """What is to be mended by field of the form; "" for the whole."""
    if isinstance(error, StaleEditError):
        look = "look at both values, then save again" if error.conflicts else "look at it again first"
        whole = Finding(error.finding.code, "it was changed elsewhere in the meantime", look)
        found = {"": told(whole)}
        for key, (_, now) in error.conflicts.items():
            text = f"stored now: {now}" if now is not None else "nothing is stored there now"
            found[f"{field_of(key)}{ending}"] = told(Finding("stale-edit", text, "save again to replace it"))
        return found
    found = {}
    for finding in findings_of(error):
        field = field_of(finding.where)
        known = field in (LOT_FIELDS if ending else CORD_FIELDS)
        found.setdefault(f"{field}{ending}" if known else "", told(finding))
    return found
