"""Whips with their layers, readings and what else is known of them."""

from typing import Annotated

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import JsonObject
from plaitlog.service.api.documented import BODY, LOCATION, answers, body, router
from plaitlog.service.api.parameters import (
    Database,
    Filter,
    IdempotencyKey,
    Name,
    Offset,
    PageSize,
    Version,
    filter_by,
)
from plaitlog.service.api.records import add, edit, remove, stored_json
from plaitlog.service.database import reading
from plaitlog.service.schemas.answers import Removed, WhipOut, WhipsPage
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.describing import missing
from plaitlog.service.usecases.listing import Stored, list_whips
from plaitlog.service.usecases.to_records import whip_record

routes = router("whips")
WHIP = {
    "label": "2026-014",
    "maker": "Orrin",
    "type": "bullwhip",
    "status": "finished",
    "made_on": "2026-03-02",
    "datum": "handle end",
    "thong_length_mm": 1830,
    "layers": [
        {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6], [300, 5], [700, 0]], "fate": "cut"},
        {"role": "overlay", "cord": "Ridge 4 mm", "strands": "in: 16; 40: -4 tuck 3; p"},
    ],
    "readings": [{"at_mm": 150, "diameter_mm": 17.9}, {"place": "p", "diameter": "1/4 in"}],
}


@routes.get("", summary="List whips", responses=answers(WhipsPage, "Whips by label, in brief.", 404))
def list_all(
    database: Database,
    limit: PageSize = 50,
    offset: Offset = 0,
    maker: Annotated[Filter, filter_by("Only whips of this maker.")] = None,
    type: Annotated[Filter, filter_by("Only whips of this type.")] = None,  # noqa: A002
    status: Annotated[Filter, filter_by("Only whips of this status.")] = None,
) -> Answer:
    """Whips by label, in one line each, a page at a time."""
    with reading(database) as session:
        page = list_whips(session, limit, offset, maker=maker, type=type, status=status)
    items = [
        {
            "label": brief.label,
            "version": version,
            "maker": brief.maker,
            "type": brief.type,
            "status": brief.status,
            "made_on": brief.made_on and brief.made_on.isoformat(),
            "thong_length_mm": brief.thong_length_mm,
            "layers": brief.layers,
            "readings": brief.readings,
        }
        for brief, version in page.items
    ]
    return Answer({"total": page.total, "offset": page.offset, "items": items})


@routes.post(
    "",
    summary="Add a whip",
    status_code=201,
    responses=answers(WhipOut, "The whip was added.", 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("WhipRecord", whip=WHIP, label_alone={"label": "old 3"}),
)
def create(database: Database, record: JsonObject, idempotency_key: IdempotencyKey = None) -> Answer:
    """Add a whip with whatever is known of it; only the label is required, and its cords must be there."""
    return add(database, "whip", record, idempotency_key)


@routes.get("/{label:name}", summary="One whip", responses=answers(WhipOut, "The whip.", 404))
def one(database: Database, label: Name) -> Answer:
    """A whip by label, with everything nested; ratings with a date or another rater stand apart."""
    with reading(database) as session:
        version, found = workshop.whip_with_version(session, label)
    return Answer(stored_json(Stored(whip_record(found), version), missing=list(missing(found))))


@routes.patch(
    "/{label:name}",
    summary="Edit a whip",
    responses=answers(WhipOut, "The whip as it is now.", 404, 409, *BODY),
    openapi_extra=body("WhipEdit", weighed={"version": 1, "changes": {"weight": "14 1/2 oz"}}),
)
def change(database: Database, label: Name, typed: JsonObject) -> Answer:
    """Edit a whip: a key that is given replaces, null erases, what is not given stays."""
    return edit(database, editing.edit_whip, label, typed)


@routes.delete(
    "/{label:name}", summary="Remove a whip", responses=answers(Removed, "The whip was removed.", 404, 409)
)
def delete(database: Database, label: Name, version: Version) -> Answer:
    """Remove a whip with its readings and ratings; it can be undone."""
    return remove(database, editing.remove_whip, label, version)
