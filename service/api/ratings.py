"""Ratings: how a whip handles, in the judgement of one person on one day."""

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
from plaitlog.service.schemas.answers import RatingOut, RatingsPage, Removed
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.listing import list_ratings, one_rating

routes = router("ratings")
RATING = {
    "whip": "2026-014",
    "by": "Orrin",
    "on": "2026-03-09",
    "hours_of_use": 4,
    "scores": {"ease": 7, "roll_out": 6, "accuracy": "not tried"},
    "feel": {"thong_handle": 1},
}


@routes.get("", summary="List ratings", responses=answers(RatingsPage, "Ratings in order of entry.", 404))
def list_all(
    database: Database,
    limit: PageSize = 50,
    offset: Offset = 0,
    whip: Annotated[Filter, filter_by("Only ratings of this whip.")] = None,
) -> Answer:
    """Ratings in order of entry, a page at a time."""
    with reading(database) as session:
        return Answer(page_json(list_ratings(session, limit, offset, whip=whip)))


@routes.post(
    "",
    summary="Add a rating",
    status_code=201,
    responses=answers(RatingOut, "A rating was added.", 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=body("RatingRecord", rating=RATING),
)
def create(database: Database, record: JsonObject, idempotency_key: IdempotencyKey = None) -> Answer:
    """Add a rating of a whip that is in the workshop; what is there already is left as it is."""
    return add(database, "rating", record, idempotency_key)


@routes.get("/{key}", summary="One rating", responses=answers(RatingOut, "A rating.", 404))
def one(database: Database, key: Key) -> Answer:
    """A rating by its number."""
    with reading(database) as session:
        return Answer(stored_json(one_rating(session, key)))


@routes.patch(
    "/{key}",
    summary="Edit a rating",
    responses=answers(RatingOut, "A rating as it is now.", 404, 409, *BODY),
    openapi_extra=body("RatingEdit", edit={"version": 1, "changes": {"notes": "in wind"}}),
)
def change(database: Database, key: Key, typed: JsonObject) -> Answer:
    """Edit a rating: a key that is given replaces, null erases, what is not given stays."""
    return edit(database, editing.edit_rating, key, typed)


@routes.delete(
    "/{key}", summary="Remove a rating", responses=answers(Removed, "A rating was removed.", 404, 409)
)
def delete(database: Database, key: Key, version: Version) -> Answer:
    """Remove a rating; it can be undone."""
    return remove(database, editing.remove_rating, key, version)
