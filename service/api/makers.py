"""Makers of whips."""

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, LOCATION, answers, body, router
from plaitlog.service.api.parameters import Database, IdempotencyKey, Name, Offset, PageSize, Version
from plaitlog.service.api.records import add, edit, page_json, remove, stored_json
from plaitlog.service.database import reading
from plaitlog.service.schemas.answers import MakerOut, MakersPage, Removed
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.listing import list_makers, one_maker

routes = router("makers")
ORRIN = {"name": "Orrin"}


@routes.get("", summary="List makers", responses=answers(MakersPage, "Makers by name."))
def list_all(database: Database, limit: PageSize = 50, offset: Offset = 0) -> Answer:
    """Makers by name, a page at a time."""
    with reading(database) as session:
        return Answer(page_json(list_makers(session, limit, offset)))


@routes.post(
    "",
    summary="Add a maker",
    status_code=201,
    responses=answers(MakerOut, "The maker was added.", 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("MakerRecord", maker=ORRIN),
)
def create(database: Database, record: JsonObject, idempotency_key: IdempotencyKey = None) -> Answer:
    """Add a maker. One whom a whip names is added with the whip."""
    return add(database, "maker", record, idempotency_key)


@routes.get("/{name:name}", summary="One maker", responses=answers(MakerOut, "The maker.", 404))
def one(database: Database, name: Name) -> Answer:
    """A maker by name."""
    with reading(database) as session:
        return Answer(stored_json(one_maker(session, name)))


@routes.patch(
    "/{name:name}",
    summary="Edit a maker",
    responses=answers(MakerOut, "The maker as it is now.", 404, 409, *BODY),
    openapi_extra=body("MakerEdit", rename={"version": 1, "changes": {"name": "Orrin the younger"}}),
)
def change(database: Database, name: Name, typed: JsonObject) -> Answer:
    """Rename a maker; whips stay with the maker."""
    return edit(database, editing.edit_maker, name, typed)


@routes.delete(
    "/{name:name}", summary="Remove a maker", responses=answers(Removed, "The maker was removed.", 404, 409)
)
def delete(database: Database, name: Name, version: Version) -> Answer:
    """Remove a maker whom no whip names; it can be undone."""
    return remove(database, editing.remove_maker, name, version)
