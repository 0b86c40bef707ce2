"""Adding, editing and removing records: what the routes of all nouns have in common."""

from collections.abc import Callable
from typing import Any, Final
from urllib.parse import quote

from sqlalchemy import Engine

from plaitlog.models.errors import Finding, RecordError
from plaitlog.service.api.answers import Answer, remarks
from plaitlog.service.api.documented import PREFIX
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import write
from plaitlog.service.schemas.wanted import EditIn
from plaitlog.service.usecases.adding import add_record
from plaitlog.service.usecases.changes.editing import Edited
from plaitlog.service.usecases.listing import Page, Stored

PLACES: Final = {
    "maker": "makers",
    "cord": "cords",
    "stock": "stock",
    "whip": "whips",
    "reading": "readings",
    "rating": "ratings",
}
"""Where each kind of record is kept, below the prefix."""
Change = Callable[..., Edited]
"""An edit or a removal: (session, name or key, changes, version=...)."""


def address(kind: str, stored: Stored) -> str:
    """The address of a record; no character of a name is left that could part the path."""
    record = stored.record
    name = (
        str(stored.key) if stored.key is not None else quote(record.get("label") or record["name"], safe="")
    )
    if not name.strip("."):
        name = name.replace(".", "%2E")  # else it would be read as "this folder" or "the folder above"
    return f"{PREFIX}/{PLACES[kind]}/{name}"


def stored_json(stored: Stored, **more: Any) -> dict[str, Any]:
    """One record with its version, and its number where it has no name."""
    key = {} if stored.key is None else {"key": stored.key}
    return {**key, "version": stored.version, "record": stored.record, **more}


def page_json(page: Page[Stored]) -> dict[str, Any]:
    return {"total": page.total, "offset": page.offset, "items": list(map(stored_json, page.items))}


def add(database: Engine, kind: str, body: dict[str, Any], idempotency_key: str | None) -> Answer:
    """Add the record that was sent: 201 and where it is, 409 where it is there already."""
    if body.get("kind", kind) != kind:
        text = f"{body['kind']!r} is not what is kept here"
        raise RecordError(Finding("wrong-kind", text, f"write {kind!r} or leave it out", "kind"))
    record = {"kind": kind, **body}
    added = write(database, lambda session: add_record(session, record, again=idempotency_key is not None))
    # Sent again, it is answered as the first time: by the change that added it.
    number = added.number or added.stored.version or None
    answer = stored_json(added.stored, change=number, findings=remarks(added.findings))
    return Answer(answer, 201, headers={"Location": address(kind, added.stored)})


def edit(database: Engine, change: Change, name: Any, body: dict[str, Any]) -> Answer:
    """Carry out what was sent for a record: 404 where there is none, 409 where the version is old."""
    wanted = shape_from(EditIn, body)
    edited = write(database, lambda session: change(session, name, wanted.changes, version=wanted.version))
    key = {"key": name} if isinstance(name, int) else {}
    return Answer(
        {
            **key,
            "version": edited.version,
            "record": edited.record,
            "change": edited.number,
            "findings": remarks(edited.findings),
        }
    )


def remove(database: Engine, removal: Change, name: Any, version: int) -> Answer:
    """Remove a record; the answer names the change, so that it can be undone."""
    edited = write(database, lambda session: removal(session, name, version=version))
    return Answer({"change": edited.number})
