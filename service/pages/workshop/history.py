"""The history of changes, undo and redo."""

import re
from collections.abc import Callable
from typing import Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, UndoError
from plaitlog.service.database import reading, write
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.forms import Posted
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, moment, page, path_of
from plaitlog.service.pages.workshop.going_back import local, saying, still_there
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.changes.change_words import what_changed
from plaitlog.service.usecases.changes.history import ChangeInList, EntryInList, change, history
from plaitlog.service.usecases.changes.undoing import Undone, redo, undo
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.web_requests import Database, Key, whole_number

routes = APIRouter(include_in_schema=False)

CHANGES: Final = 50
ENTRIES: Final = 3
ENTRIES_OF_ONE: Final = 200
KINDS: Final = (
    ("", "everything"),
    ("whip", "whips"),
    ("reading", "readings"),
    ("rating", "ratings"),
    ("cord", "cords"),
    ("stock", "stock"),
    ("maker", "makers"),
)
PLACES: Final = {
    "whip": "whips",
    "reading": "whips",
    "rating": "whips",
    "cord": "cords",
    "stock": "cords",
    "maker": "makers",
}
IN_WORDS: Final = {"import": "imported", "record": "recorded", "edit": "edited", "remove": "removed"}


@routes.get("/changes")
def changes(request: Request, database: Database) -> Response:
    query = request.query_params
    kind = query.get("kind", "") if query.get("kind", "") in dict(KINDS) else ""
    name, before = query.get("name", "").strip(), (whole_number(query.get("before", "")) or 0)
    with reading(database) as session:
        found = history(
            session, kind=kind or None, name=name or None, limit=CHANGES + 1, before=before or None
        )
        said = banner(request, session)
    shown = preferences().shown
    data = {
        "kind": kind,
        "name": name,
        "kinds": [list(one) for one in KINDS],
        "changes": [_told(one, shown, ENTRIES) for one in found[:CHANGES]],
        "before": before,
        "earlier": _address(kind=kind, name=name, before=found[CHANGES - 1].number)
        if len(found) > CHANGES
        else None,
        "address": _address(kind=kind, name=name, before=before or ""),
        "latest": _address(kind=kind, name=name),
        "banner": said,
    }
    return page(request, "changes.html", data)


@routes.get("/changes/{key}")
def one(request: Request, database: Database, key: Key) -> Response:
    return _one(request, database, key)


@routes.post("/changes/{key}/undo")
def take_back(request: Request, database: Database, key: Key, form: Posted) -> Response:
    """Take a change back, then go on where its button stood."""
    return _done(request, database, key, form.text("back"), undo)


@routes.post("/changes/{key}/redo")
def do_again(request: Request, database: Database, key: Key, form: Posted) -> Response:
    """Make a change again that was undone."""
    return _done(request, database, key, form.text("back"), redo)


def _done(
    request: Request, database: Engine, key: int, back: str, work: Callable[[Session, int], Undone]
) -> Response:
    try:
        done = write(database, lambda session: work(session, key))
    except UndoError as error:
        return _one(request, database, key, error)
    with reading(database) as session:
        address = still_there(session, local(back, "/changes"))
    return go_to(saying(address, done.number))


def _one(request: Request, database: Engine, key: int, error: UndoError | None = None) -> Response:
    shown = preferences().shown
    first = max((whole_number(request.query_params.get("page", "")) or 0), 1)
    with reading(database) as session:
        found = change(session, key, limit=ENTRIES_OF_ONE, offset=(first - 1) * ENTRIES_OF_ONE)
        said = banner(request, session)
    last = max(1, -(-sum(found.touched.values()) // ENTRIES_OF_ONE))
    data = {
        "change": _told(found, shown, ENTRIES_OF_ONE),
        "refusal": None if error is None else _refusal(key, error),
        "in_the_way": [] if error is None else [_in_the_way(one) for one in error.findings],
        "pages": {
            "page": first,
            "of": last,
            "earlier": f"/changes/{key}?page={first - 1}" if first > 1 else None,
            "later": f"/changes/{key}?page={first + 1}" if first < last else None,
            "first": None,
            "last": None,
        },
        "banner": said,
    }
    return page(request, "change.html", data, 200 if error is None else 409)


def _told(found: ChangeInList, shown: ShownUnits, at_most: int) -> dict[str, Any]:
    entries = found.entries[:at_most]
    return {
        "number": found.number,
        "when": moment(found.created_at),
        "action": found.action,
        "what": IN_WORDS.get(found.action, found.action),
        "subject": found.subject or "",
        "of": found.of,
        "by": found.actor or "",
        "undone": found.undone,
        "undo": found.of is None and found.undoable,
        "redo": found.of is None and found.undone,
        "touched": [f"{number} {_counted(kind, number)}" for kind, number in found.touched.items()],
        "entries": [_entry(entry, shown) for entry in entries],
        "more": sum(found.touched.values()) - len(entries),
    }


def _entry(entry: EntryInList, shown: ShownUnits) -> dict[str, Any]:
    there = entry.after is not None
    return {
        "words": what_changed(entry, shown),
        "address": path_of(PLACES[entry.kind], entry.name) if there and entry.kind in PLACES else None,
        "name": entry.name,
    }


def _counted(kind: str, number: int) -> str:
    return kind if number == 1 or kind == "stock" else f"{kind}s"


def _refusal(number: int, error: UndoError) -> dict[str, str]:
    code = error.finding.code
    if code in ("already-undone", "already-done"):
        text = "it is undone already" if code == "already-undone" else "it holds already"
        return told(Finding(code, text, "nothing was done"))
    if error.findings:  # each is told below
        return told(Finding(code, f"change {number} stays as it is", "look first at what is in the way"))
    return told(error.finding)


def _in_the_way(finding: Finding) -> dict[str, Any]:
    named = re.search(r"\bchange (\d+)\b", finding.remedy)
    return {**told(finding), "change": int(named[1]) if named else None}


def _address(**asked: Any) -> str:
    query = urlencode({key: value for key, value in asked.items() if value})
    return f"/changes?{query}" if query else "/changes"
