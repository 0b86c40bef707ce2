"""Backups: made, listed, downloaded, restored.

A restore is done at once and not as a job: the rows of jobs are among those that it replaces.
"""

from pathlib import Path
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from plaitlog.models.errors import BackupError, DatabaseError, Finding, NotFoundError
from plaitlog.service.backups.files import Backup, BackupPlace, backups_in, place_of
from plaitlog.service.backups.making import back_up
from plaitlog.service.backups.restoring import check, restore
from plaitlog.service.database import reading
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.refusals import refusal_page, told
from plaitlog.service.pages.rendering import go_to, page
from plaitlog.service.pages.workshop.backups_view import (
    comparison,
    file_in_words,
    in_words,
    list_data,
    running_jobs,
)
from plaitlog.service.settings import Settings
from plaitlog.service.staged_uploads import download_name, stage, staged
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.web_requests import Database, Limits

routes = APIRouter(include_in_schema=False)
PURPOSE: Final = "backups"
IN_MEMORY: Final = Finding("in-memory", "a database in memory has no backups", "name a file")
NOT_SAID: Final = Finding("not-confirmed", "it was not confirmed", "set the tick, then restore")
MEANWHILE: Final = Finding(
    "moved-on", "something was changed here since this was shown", "look at the numbers again, then restore"
)
WORK: Final = Finding(
    "work-under-way",
    "long work is under way, which would write into the restored records",
    "wait, or cancel it",
)


@routes.get("/backups")
def overview(request: Request, database: Database, limits: Limits) -> Response:
    return _overview(request, _place(database, limits))


@routes.post("/backups")
def make(database: Database, limits: Limits) -> Response:
    made = back_up(database, _place(database, limits), "asked")
    return go_to(f"/backups?made={made.file.name}")


@routes.get("/backups/files/{name}")
def download(database: Database, limits: Limits, name: str) -> Response:
    found = _named(_place(database, limits), name)
    media = "application/vnd.sqlite3"
    return FileResponse(found.file, media_type=media, filename=download_name(found.file.name))


@routes.post("/backups/upload")
def upload(request: Request, database: Database, limits: Limits, form: Posted) -> Response:
    """Keep a file that was sent till it is confirmed."""
    files = form.files("file")
    if not files:
        error = Finding("nothing-sent", "no file was chosen", "choose a backup")
        return _overview(request, _place(database, limits), error=error, status=422)
    kept = stage(files[0].stream, files[0].name, PURPOSE)
    try:
        check(kept.content)
    except DatabaseError as error:
        kept.discard()
        found = file_in_words(error, kept.content, kept.name)
        return _overview(request, _place(database, limits), error=found, status=422)
    return go_to(f"/backups/uploaded/{kept.token}")


@routes.get("/backups/restore/{name}")
def ask(request: Request, database: Database, limits: Limits, name: str) -> Response:
    found = _named(_place(database, limits), name)
    return _confirm(request, found.file, in_words(found))


@routes.post("/backups/restore/{name}")
def restore_kept(request: Request, database: Database, limits: Limits, name: str, form: Posted) -> Response:
    found = _named(_place(database, limits), name)
    refused = _refusal(request, form.has("sure"), form.text("seen"))
    if refused is not None:
        return _confirm(request, found.file, in_words(found), error=refused, status=409)
    return _restored(request, limits, found.file, found.file.name)


@routes.get("/backups/uploaded/{token}")
def ask_uploaded(request: Request, token: str) -> Response:
    kept = staged(token, PURPOSE)
    return _confirm(request, kept.content, f"The file {kept.name}")


@routes.post("/backups/uploaded/{token}")
def restore_uploaded(request: Request, limits: Limits, token: str, form: Posted) -> Response:
    kept = staged(token, PURPOSE)
    refused = _refusal(request, form.has("sure"), form.text("seen"))
    if refused is not None:
        return _confirm(request, kept.content, f"The file {kept.name}", error=refused, status=409)
    answer = _restored(request, limits, kept.content, kept.name)
    kept.discard()
    return answer


def _place(database: Database, limits: Settings) -> BackupPlace:
    place = place_of(database.url, limits.backups_kept)
    if place is None:
        raise DatabaseError(IN_MEMORY)
    return place


def _named(place: BackupPlace, name: str) -> Backup:
    """A backup of the list by its name, which is compared and never used as a path."""
    for one in backups_in(place):
        if one.file.name == name:
            return one
    raise NotFoundError(Finding("backup-not-found", "there is no such backup here", "choose one of the list"))


def _overview(
    request: Request, place: BackupPlace, *, error: Finding | None = None, status: int = 200
) -> Response:
    data = list_data(place, request.query_params.get("made"), request.query_params.get("before"))
    data |= {
        "error": None if error is None else told(error),
        "restored": request.query_params.get("restored") == "yes",
        "set_aside": request.query_params.get("damaged") == "yes",
    }
    return page(request, "backups.html", data, status)


def _confirm(
    request: Request, file: Path, name: str, *, error: Finding | None = None, status: int = 200
) -> Response:
    """What would be restored, against what is there."""
    engine = request.app.state.engine
    try:
        check(file)
        compared: dict[str, Any] = comparison(file, engine)
    except BackupError as refused:
        return refusal_page(request, 422, file_in_words(refused, file, name))
    data = {
        "what": name,
        "error": None if error is None else told(error),
        "jobs": running_jobs(engine),
        **compared,
    }
    return page(request, "backup_restore.html", data, status)


def _refusal(request: Request, sure: bool, seen: str) -> Finding | None:
    engine = request.app.state.engine
    if running_jobs(engine):
        return WORK
    with reading(engine) as session:
        if str(latest_change(session)) != seen:
            return MEANWHILE
    return None if sure else NOT_SAID


def _restored(request: Request, limits: Settings, file: Path, name: str) -> Response:
    """Everything that is kept of the former records in memory goes with the connections to them."""
    try:
        done = restore(
            limits.database, file, busy_timeout_s=limits.busy_timeout_s, backups_kept=limits.backups_kept
        )
    except BackupError as error:
        return refusal_page(request, 422, file_in_words(error, file, name))
    finally:
        request.app.state.engine.dispose()
    request.app.state.jobs.open()  # what was under way when the backup was made is so no longer
    before = "" if done.before is None else f"&before={done.before.file.name}"
    damaged = "" if done.set_aside is None else "&damaged=yes"
    return go_to(f"/backups?restored=yes{before}{damaged}")
