"""Readings: one measured diameter at one station."""

from typing import Annotated

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, LOCATION, answers, body, router
from plaitlog.service.api.parameters import (
    Database,
    Filter,
    IdempotencyKey,
    Key,
    Offset,
    PageSize,
    Version,
    filter_by,
)
from plaitlog.service.api.records import add, edit, page_json, remove, stored_json
from plaitlog.service.database import reading
from plaitlog.service.schemas.answers import ReadingOut, ReadingsPage, Removed
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.listing import list_readings, one_reading

routes = router("readings")
READING = {
    "whip": "2026-014",
    "at_mm": 450,
    "diameter_mm": 15.2,
    "condition": "broken in",
    "on": "2026-06-01",
}


@routes.get("", summary="List readings", responses=answers(ReadingsPage, "Readings in order of entry.", 404))
def list_all(
    database: Database,
    limit: PageSize = 50,
    offset: Offset = 0,
    whip: Annotated[Filter, filter_by("Only readings of this whip.")] = None,
) -> Answer:
    """Readings in order of entry, a page at a time."""
    with reading(database) as session:
        return Answer(page_json(list_readings(session, limit, offset, whip=whip)))


@routes.post(
    "",
    summary="Add a reading",
    status_code=201,
    responses=answers(ReadingOut, "A reading was added.", 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("ReadingRecord", reading=READING),
)
def create(database: Database, record: JsonObject, idempotency_key: IdempotencyKey = None) -> Answer:
    """Add a reading of a whip that is in the workshop; what is there already is left as it is."""
    return add(database, "reading", record, idempotency_key)


@routes.get("/{key}", summary="One reading", responses=answers(ReadingOut, "A reading.", 404))
def one(database: Database, key: Key) -> Answer:
    """A reading by its number."""
    with reading(database) as session:
        return Answer(stored_json(one_reading(session, key)))


@routes.patch(
    "/{key}",
    summary="Edit a reading",
    responses=answers(ReadingOut, "A reading as it is now.", 404, 409, *BODY),
    openapi_extra=body("ReadingEdit", edit={"version": 1, "changes": {"doubtful": True}}),
)
def change(database: Database, key: Key, typed: JsonObject) -> Answer:
    """Edit a reading: a key that is given replaces, null erases, what is not given stays."""
    return edit(database, editing.edit_reading, key, typed)


@routes.delete(
    "/{key}", summary="Remove a reading", responses=answers(Removed, "A reading was removed.", 404, 409)
)
def delete(database: Database, key: Key, version: Version) -> Answer:
    """Remove a reading; it can be undone."""
    return remove(database, editing.remove_reading, key, version)
