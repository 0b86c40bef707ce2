"""Stock: metres of one cord in one colour and lot."""

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
from plaitlog.service.schemas.answers import Removed, StockOut, StockPage
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.listing import list_stock, one_stock

routes = router("stock")
STOCK = {"cord": "Ridge 4 mm", "colour": "black", "lot": "2026-02", "metres": 140}


@routes.get("", summary="List stock", responses=answers(StockPage, "Stock in order of entry.", 404))
def list_all(
    database: Database,
    limit: PageSize = 50,
    offset: Offset = 0,
    cord: Annotated[Filter, filter_by("Only stock of this cord.")] = None,
) -> Answer:
    """Stock in order of entry, a page at a time."""
    with reading(database) as session:
        return Answer(page_json(list_stock(session, limit, offset, cord=cord)))


@routes.post(
    "",
    summary="Add stock",
    status_code=201,
    responses=answers(StockOut, "Stock was added.", 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("StockRecord", stock=STOCK),
)
def create(database: Database, record: JsonObject, idempotency_key: IdempotencyKey = None) -> Answer:
    """Add stock of a cord that is in the workshop; what is there already is left as it is."""
    return add(database, "stock", record, idempotency_key)


@routes.get("/{key}", summary="One stock", responses=answers(StockOut, "Stock.", 404))
def one(database: Database, key: Key) -> Answer:
    """Stock by its number."""
    with reading(database) as session:
        return Answer(stored_json(one_stock(session, key)))


@routes.patch(
    "/{key}",
    summary="Edit stock",
    responses=answers(StockOut, "Stock as it is now.", 404, 409, *BODY),
    openapi_extra=body("StockEdit", edit={"version": 1, "changes": {"metres": 96.5}}),
)
def change(database: Database, key: Key, typed: JsonObject) -> Answer:
    """Edit stock: a key that is given replaces, null erases, what is not given stays."""
    return edit(database, editing.edit_stock, key, typed)


@routes.delete("/{key}", summary="Remove stock", responses=answers(Removed, "Stock was removed.", 404, 409))
def delete(database: Database, key: Key, version: Version) -> Answer:
    """Remove stock; it can be undone."""
    return remove(database, editing.remove_stock, key, version)
