"""Makers of whips: the list, and one maker to rename or remove."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy import Engine

from plaitlog.models.errors import AlreadyThereError, InputError, RecordError, StaleEditError
from plaitlog.service import errors
from plaitlog.service.database import reading, write
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page, path_of
from plaitlog.service.pages.workshop.going_back import saying
from plaitlog.service.usecases.adding import add_record
from plaitlog.service.usecases.changes.editing import edit_maker, remove_maker
from plaitlog.service.usecases.maker_list import maker_list
from plaitlog.service.usecases.workshop import maker_with_version
from plaitlog.service.web_requests import Database, Name

routes = APIRouter(include_in_schema=False)


@routes.get("/makers")
def makers(request: Request, database: Database) -> Response:
    return _list(request, database)


@routes.post("/makers")
def add(request: Request, database: Database, form: Posted) -> Response:
    typed = form.text("name")
    try:
        done = write(database, lambda session: add_record(session, {"kind": "maker", "name": typed}))
    except (RecordError, AlreadyThereError) as error:
        return _list(request, database, typed, error)
    return go_to(saying("/makers", done.number) if done.number else "/makers")


@routes.get("/makers/{name:name}")
def one(request: Request, database: Database, name: Name) -> Response:
    return _one(request, database, name, name)


@routes.post("/makers/{name:name}")
def change(request: Request, database: Database, name: Name, form: Posted) -> Response:
    """Rename or remove a maker; a version that is not the stored one is refused with both names."""
    typed = form.text("name")
    version = form.number("version")
    try:
        if form.text("do") == "remove":
            done = write(database, lambda session: remove_maker(session, name, version=version))
            address = "/makers"
        else:
            done = write(
                database, lambda session: edit_maker(session, name, {"name": typed}, version=version)
            )
            address = path_of("makers", done.record["name"])
    except (RecordError, StaleEditError) as error:
        return _one(request, database, name, typed or name, error)
    return go_to(saying(address, done.number) if done.number else address)


def _list(request: Request, database: Engine, typed: str = "", error: InputError | None = None) -> Response:
    with reading(database) as session:
        found = maker_list(session)
        said = banner(request, session)
    data = {
        "makers": [
            {
                "name": maker.name,
                "address": path_of("makers", maker.name),
                "whips": maker.whips,
                "last": maker.last.isoformat() if maker.last else "",
            }
            for maker in found
        ],
        "typed": typed,
        "error": None if error is None else told(error.finding),
        "banner": said,
    }
    return page(request, "makers.html", data, 200 if error is None else errors.status(error))


def _one(
    request: Request, database: Engine, name: str, typed: str, error: InputError | None = None
) -> Response:
    with reading(database) as session:
        version, _ = maker_with_version(session, name)
        found: dict[str, Any] = next(
            {"name": maker.name, "whips": maker.whips} for maker in maker_list(session) if maker.name == name
        )
        said = banner(request, session)
    data = {
        **found,
        "version": version,
        "typed": typed,
        "error": None if error is None else told(error.finding),
        "banner": said,
    }
    return page(request, "maker.html", data, 200 if error is None else errors.status(error))
