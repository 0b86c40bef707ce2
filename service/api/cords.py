"""Cords: the material of strands."""

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, LOCATION, answers, body, router
from plaitlog.service.api.parameters import Database, IdempotencyKey, Name, Offset, PageSize, Version
from plaitlog.service.api.records import add, edit, page_json, remove, stored_json
from plaitlog.service.database import reading
from plaitlog.service.schemas.answers import CordOut, CordsPage, Removed
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.listing import list_cords, one_cord

routes = router("cords")
RIDGE = {
    "name": "Ridge 4 mm",
    "material": "nylon",
    "construction": "cored",
    "diameter_mm": 4.0,
    "pressed": "2.1 mm",
    "linear_density_g_per_m": 7.2,
}


@routes.get("", summary="List cords", responses=answers(CordsPage, "Cords by name."))
def list_all(database: Database, limit: PageSize = 50, offset: Offset = 0) -> Answer:
    """Cords by name, a page at a time."""
    with reading(database) as session:
        return Answer(page_json(list_cords(session, limit, offset)))


@routes.post(
    "",
    summary="Add a cord",
    status_code=201,
    responses=answers(CordOut, "The cord was added.", 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("CordRecord", cord=RIDGE),
)
def create(database: Database, record: JsonObject, idempotency_key: IdempotencyKey = None) -> Answer:
    """Add a cord kind: what a fit learns about. Colour and lot belong to the stock."""
    return add(database, "cord", record, idempotency_key)


@routes.get("/{name:name}", summary="One cord", responses=answers(CordOut, "The cord.", 404))
def one(database: Database, name: Name) -> Answer:
    """A cord by name."""
    with reading(database) as session:
        return Answer(stored_json(one_cord(session, name)))


@routes.patch(
    "/{name:name}",
    summary="Edit a cord",
    responses=answers(CordOut, "The cord as it is now.", 404, 409, *BODY),
    openapi_extra=body("CordEdit", measured={"version": 1, "changes": {"flat_width_mm": 4.4, "notes": None}}),
)
def change(database: Database, name: Name, typed: JsonObject) -> Answer:
    """Edit a cord: a key that is given replaces, null erases, what is not given stays."""
    return edit(database, editing.edit_cord, name, typed)


@routes.delete(
    "/{name:name}", summary="Remove a cord", responses=answers(Removed, "The cord was removed.", 404, 409)
)
def delete(database: Database, name: Name, version: Version) -> Answer:
    """Remove a cord that no layer and no stock names; it can be undone."""
    return remove(database, editing.remove_cord, name, version)
