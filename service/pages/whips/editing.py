"""Editing and removing what is recorded of a whip: its own facts, its layers, each reading, its ratings."""

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, StaleEditError
from plaitlog.service.database import reading, write
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.rendering import go_to, page, part, path_of
from plaitlog.service.pages.whips.editing_forms import (
    Typed,
    echo_data,
    edit_data,
    facts_typed,
    layers_typed,
    reading_typed,
    wrong_in,
)
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.changes.editing import (
    Edited,
    edit_reading,
    edit_whip,
    remove_rating,
    remove_reading,
    remove_whip,
)
from plaitlog.service.usecases.workshop import rating_by_key, reading_by_key
from plaitlog.service.web_requests import Database, Name

routes = APIRouter(include_in_schema=False)


@routes.get("/edit/{label:name}")
def form(request: Request, database: Database, label: Name) -> Response:
    with reading(database) as session:
        data = edit_data(request, session, label, preferences().shown, Typed())
    return page(request, "edit.html", data)


@routes.post("/edit/{label:name}")
def edit(request: Request, database: Database, label: Name, form: Posted) -> Response:
    """Carry out what the button says; what cannot be taken is shown again as it was typed."""
    work = WORK.get(form.text("do"))
    shown = preferences().shown
    try:
        if work is None:
            with reading(database) as session:
                return part("_edit_echo.html", echo_data(session, label, form, shown))
        done, address = write(database, lambda session: work(session, label, form))
    except InputError as error:
        status = 409 if isinstance(error, StaleEditError) else 422
        with reading(database) as session:
            typed = Typed(form, form.text("do"), wrong_in(error), _conflicts(error))
            data = edit_data(request, session, label, shown, typed)
        return page(request, "edit.html", data, status)
    return go_to(address if done.number is None else f"{address}?change={done.number}")


def _conflicts(error: InputError) -> dict[str, Any]:
    return {} if not isinstance(error, StaleEditError) else error.conflicts


def _facts(session: Session, label: str, form: Form) -> tuple[Edited, str]:
    changes = facts_typed(session, form, preferences().shown)
    done = edit_whip(session, label, changes, version=form.number("version"))
    return done, path_of("whips", done.record["label"])


def _layers(session: Session, label: str, form: Form) -> tuple[Edited, str]:
    changes = layers_typed(session, label, form, preferences().shown)
    return edit_whip(session, label, changes, version=form.number("version")), path_of("whips", label)


def _reading(session: Session, label: str, form: Form) -> tuple[Edited, str]:
    changes = reading_typed(form, preferences().shown)
    number = form.number("number") or 0
    _refuse_other(reading_by_key(session, number)[1], label)
    return edit_reading(session, number, changes, version=form.number("version")), path_of("edit", label)


def _remove_reading(session: Session, label: str, form: Form) -> tuple[Edited, str]:
    number = form.number("number") or 0
    _refuse_other(reading_by_key(session, number)[1], label)
    return remove_reading(session, number, version=form.number("version")), path_of("edit", label)


def _remove_rating(session: Session, label: str, form: Form) -> tuple[Edited, str]:
    number = form.number("number") or 0
    _refuse_other(rating_by_key(session, number)[1], label)
    return remove_rating(session, number, version=form.number("version")), path_of("edit", label)


def _remove_whip(session: Session, label: str, form: Form) -> tuple[Edited, str]:
    return remove_whip(session, label, version=form.number("version")), "/whips"


def _refuse_other(owner: str, label: str) -> None:
    if owner != label:
        raise InputError(
            Finding("belongs-elsewhere", f"it is of {owner!r}, not of {label!r}", "reload the page")
        )


WORK: dict[str, Callable[[Session, str, Form], tuple[Edited, str]]] = {
    "facts": _facts,
    "layers": _layers,
    "reading": _reading,
    "remove-reading": _remove_reading,
    "remove-rating": _remove_rating,
    "remove-whip": _remove_whip,
}
"""By what the button says."""
