"""Import a table: paste or file, what its columns are, what each row would do, then one change.

Each step is kept on the server beside the file that was sent (`staged_imports`), so that one may go back,
reload, or go on tomorrow, with and without scripts.
"""

import io
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response
from sqlalchemy import Engine

from plaitlog.models.errors import Finding, InputError, NotFoundError, TableError, UndoError
from plaitlog.service.database import reading, write
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.importing.said import said_in
from plaitlog.service.pages.importing.view import job_of, size_words, step_data, waiting_data
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page, part
from plaitlog.service.settings import Settings
from plaitlog.service.staged_imports import (
    PASTED,
    PURPOSE,
    REJECTED,
    asked_of,
    check,
    is_fresh,
    is_lines,
    is_long,
    report_of,
    say,
    seen_of,
    settle,
    take,
)
from plaitlog.service.staged_uploads import Staged, all_staged, download_name, stage, staged
from plaitlog.service.usecases.asked_imports import Asked
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.web_requests import Database, Limits

routes = APIRouter(include_in_schema=False)
NOTHING_SENT: Final = Finding("nothing-sent", "nothing was pasted and no file was chosen", "do either")


@routes.get("/import")
def start(request: Request, database: Database) -> Response:
    return _start(request, database)


@routes.post("/import")
def send(request: Request, database: Database, limits: Limits, form: Posted) -> Response:
    """Keep what was pasted or chosen, and go on to what it holds."""
    files, cells = form.files("file"), form.raw("cells")
    if files:
        kept = stage(files[0].stream, files[0].name, PURPOSE)
    elif cells.strip():
        kept = stage(io.BytesIO(cells.encode("utf-8", "replace")), PASTED, PURPOSE)
    else:
        return _start(request, database, error=NOTHING_SENT, status=422)
    try:
        say(kept, Asked(encoding=None if files or is_lines(kept) else "utf-8"))
    except TableError as error:
        kept.discard()
        return _start(request, database, error=error.finding, cells=cells, status=422)
    return go_to(_checked(request, database, limits, kept))


@routes.get("/import/{token}")
def step(request: Request, database: Database, token: str) -> Response:
    return _step(request, database, staged(token, PURPOSE))


@routes.post("/import/{token}")
def go_on(request: Request, database: Database, limits: Limits, token: str, form: Posted) -> Response:
    """Note what was said and put right; then check again, or import."""
    kept = staged(token, PURPOSE)
    if form.has("discard"):
        kept.discard()
        return go_to("/import")
    before = asked_of(kept)
    try:
        asked = said_in(form, kept, before)
        if asked != before:
            say(kept, asked)
    except InputError as error:
        return _step(request, database, kept, error=error.finding, form=form, status=422)
    if not form.has("take"):
        return go_to(_checked(request, database, limits, kept))
    if asked != before:  # never import what was not shown
        return go_to(_checked(request, database, limits, kept, "?look=again"))
    return _taken(request, database, limits, kept)


@routes.post("/import/{token}/rows")
def rows(request: Request, database: Database, limits: Limits, token: str, form: Posted) -> Response:
    """The rows as they would be read with what the form says now: a part of the page, for its script."""
    kept = staged(token, PURPOSE)
    before = asked_of(kept)
    try:
        asked = said_in(form, kept, before)
        if asked != before and not is_long(kept):
            say(kept, asked)
            _checked(request, database, limits, kept)
    except (InputError, FileNotFoundError):  # nothing to show, or the file was let go meanwhile
        return Response(status_code=204)
    with reading(database) as session:
        data = step_data(session, kept, seen_of(kept), report_of(kept), {})
    return part("_import_rows.html", data)


@routes.get("/import/{token}/rejected")
def rejected(token: str) -> Response:
    """The rejected rows as a file of the same make, to be mended and imported again."""
    kept = staged(token, PURPOSE)
    stem, dot, ending = kept.name.rpartition(".")
    if is_lines(kept) or not dot or ending not in {"csv", "tsv", "txt", "xlsx"}:
        ending = "jsonl" if is_lines(kept) else "csv"
    name = download_name(f"{stem or kept.name}.rejected.{ending}")
    return FileResponse(kept.folder / REJECTED, media_type="application/octet-stream", filename=name)


@routes.get("/import/{token}/done")
def done(request: Request, database: Database, token: str) -> Response:
    """Where a job that imported leads to: what was taken in, and what is left to be mended."""
    try:
        kept = staged(token, PURPOSE)
    except NotFoundError:  # all of it was taken in; the job still tells its change
        change = request.query_params.get("change", "")
        return go_to(f"/import?change={change}" if change.isdecimal() else "/import")
    with reading(database) as session:
        job = job_of(session, kept)
    if job is None or job.state != "done" or job.result is None or "change" not in job.result:
        return go_to(f"/import/{token}")
    return go_to(_after(kept, job.result["change"]))


def _start(
    request: Request, database: Engine, *, error: Finding | None = None, cells: str = "", status: int = 200
) -> Response:
    with reading(database) as session:
        data = {
            "banner": banner(request, session),
            "nothing_new": request.query_params.get("new") == "none",
            "error": None if error is None else told(error),
            "cells": cells,
            "waiting": waiting_data(all_staged(PURPOSE)),
            "limit": size_words(request.app.state.settings.upload_limit_bytes),
        }
    return page(request, "import.html", data, status)


def _step(
    request: Request,
    database: Engine,
    kept: Staged,
    *,
    error: Finding | None = None,
    form: Form | None = None,
    status: int = 200,
) -> Response:
    with reading(database) as session:
        typed = {} if form is None else form.texts()
        data = {
            "banner": banner(request, session),
            "error": None if error is None else told(error),
            "look_again": request.query_params.get("look") == "again",
            **step_data(session, kept, seen_of(kept), report_of(kept), typed),
        }
    return page(request, "import_step.html", data, status)


def _checked(request: Request, database: Engine, limits: Settings, kept: Staged, why: str = "") -> str:
    """Have the rows tried out where nothing is left to be asked, if long by a job; gives where to go on."""
    address = f"/import/{kept.token}{why}"
    seen = seen_of(kept)
    left_out = asked_of(kept).left_out
    if seen is not None and any(x["findings"] for x in seen["sheets"] if x["name"] not in left_out):
        return address
    if is_long(kept):
        number = request.app.state.jobs.start("import", {"token": kept.token, "take": False})
        kept.note("job", number)
        return f"/jobs/{number}"
    with reading(database) as session:
        at = latest_change(session)
    check(kept, limits.line_limit_bytes, lambda work: write(database, work), at)
    return address


def _taken(request: Request, database: Engine, limits: Settings, kept: Staged) -> Response:
    found = report_of(kept)
    with reading(database) as session:
        fresh = found is not None and found["report"] is not None and is_fresh(session, found)
    if not fresh:
        return go_to(_checked(request, database, limits, kept, "?look=again"))
    if is_long(kept):
        number = request.app.state.jobs.start("import", {"token": kept.token, "take": True})
        kept.note("job", number)
        return go_to(f"/jobs/{number}")
    try:
        _, change = write(database, lambda session: take(session, kept, limits.line_limit_bytes))
    except UndoError:  # somebody wrote between the look and the import
        return go_to(_checked(request, database, limits, kept, "?look=again"))
    return go_to(_after(kept, change))


def _after(kept: Staged, change: int | None) -> str:
    """Where one goes when rows were imported; a file of which nothing is left is let go."""
    what = "new=none" if change is None else f"change={change}"
    if settle(kept, change):
        return f"/import/{kept.token}?{what}"
    kept.discard()
    return f"/import?{what}"
