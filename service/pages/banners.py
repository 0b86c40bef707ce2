"""The line at the top of a page that says what has just been done, with its undo.

After something was done the address names the change (``?change=17``), so that a reload tells the same and
does nothing.
"""

from typing import Any

from fastapi import Request
from sqlalchemy.orm import Session

from plaitlog.models.errors import NotFoundError
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.changes.change_words import what_changed
from plaitlog.service.usecases.changes.history import change
from plaitlog.service.web_requests import whole_number

SHOWN = 3


def banner(request: Request, session: Session) -> dict[str, Any] | None:
    """What was just done as data of a page: number, words, whether it holds; None where nothing was."""
    number = whole_number(request.query_params.get("change", ""))
    if not number:
        return None
    try:
        found = change(session, number, limit=SHOWN)
    except NotFoundError:
        return None
    shown = preferences().shown
    words = [what_changed(entry, shown) for entry in found.entries]
    return {
        "number": found.number,
        "action": found.action,
        "words": words,
        "more": sum(found.touched.values()) - len(words),
        "undone": found.undone,
        "undoable": found.undoable,
    }
