"""Photos of whips: listed, added as they come from a camera, written under, removed."""

from typing import Annotated, Any, Final

from fastapi import Query
from fastapi.responses import Response
from pydantic import AfterValidator
from sqlalchemy.orm import Session

from plaitlog.models.errors import AlreadyThereError, Finding
from plaitlog.service.api.answers import Answer
from plaitlog.service.api.bodies import PICTURES, JsonObject, SentPicture
from plaitlog.service.api.documented import BODY, LOCATION, PREFIX, answers, body, failing, router
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
from plaitlog.service.api.shapes import shape_from
from plaitlog.service.database import reading, write
from plaitlog.service.schemas.answers import Removed
from plaitlog.service.schemas.photos import PhotoChanges, PhotoOut, PhotosPage
from plaitlog.service.schemas.wanted import EditIn
from plaitlog.service.usecases.photos import keeping
from plaitlog.service.usecases.photos.encoding import encoded
from plaitlog.service.web_requests import nameable

routes = router("photos")
A_YEAR: Final = "private, max-age=31536000, immutable"
"""The picture under a number never changes."""
SENT: Final[dict[str, Any]] = {
    "requestBody": {"required": True, "content": {media: {"schema": {}} for media in PICTURES}}
}
"""Any bytes: whether they are a picture shows when they are decoded."""
JPEG: Final[dict[str, Any]] = {"image/jpeg": {"schema": {"type": "string"}}}


class Picture(Response):
    """Not JSON."""

    media_type = "image/jpeg"


@routes.get("", summary="List photos", responses=answers(PhotosPage, "Photos in order of entry.", 404))
def list_all(
    database: Database,
    limit: PageSize = 50,
    offset: Offset = 0,
    whip: Annotated[Filter, filter_by("Only photos of this whip.")] = None,
) -> Answer:
    """Photos in order of entry, a page at a time, each with the address of its picture."""
    with reading(database) as session:
        page = keeping.photo_page(session, limit, offset, whip=whip)
    return Answer({"total": page.total, "offset": page.offset, "items": list(map(_json, page.items))})


@routes.post(
    "",
    summary="Add a photo",
    status_code=201,
    responses=answers(PhotoOut, "A photo was added.", 404, 409, *BODY, status=201, headers=LOCATION),
    openapi_extra=SENT,
)
def create(
    database: Database,
    content: SentPicture,
    whip: Annotated[str, filter_by("Label of the whip."), AfterValidator(nameable)],
    caption: Annotated[
        str, Query(description="What to write under it, at most 500 characters; nothing without it.")
    ] = "",
    idempotency_key: IdempotencyKey = None,
) -> Answer:
    """Add a photo of a whip that is in the workshop; what is there already is left as it is.

    The picture is turned upright and kept at 2560 pixels at most, without what the camera wrote beside it.
    """
    picture = encoded(content)

    def add(session: Session) -> tuple[keeping.Photo, int | None]:
        done = keeping.add_photos(session, whip, [picture], caption)
        there = keeping.photo_there(session, whip, picture.digest)
        assert there is not None
        if done.number is None and idempotency_key is None:
            text = f"this picture is photo {there.number} of {whip!r} already"
            raise AlreadyThereError(Finding("photo-exists", text, "edit that one, or leave it", "body"))
        # Sent again, it is answered as the first time: by the change that added it.
        return there, done.number or there.version or None

    photo, change = write(database, add)
    headers = {"Location": f"{PREFIX}/photos/{photo.number}"}
    return Answer(_json(photo, change=change, findings=[]), 201, headers=headers)


@routes.get("/{key}", summary="One photo", responses=answers(PhotoOut, "A photo.", 404))
def one(database: Database, key: Key) -> Answer:
    """A photo by its number, without the picture."""
    with reading(database) as session:
        return Answer(_json(keeping.photo(session, key)))


@routes.get(
    "/{key}/picture",
    summary="Picture of a photo",
    response_class=Picture,
    responses={200: {"description": "The picture as it is kept.", "content": JPEG}, **failing(404)},
)
def picture(database: Database, key: Key) -> Response:
    """The picture itself, upright, without what a camera writes beside it."""
    with reading(database) as session:
        content = keeping.picture(session, key, small=False)
    return Picture(content, headers={"Cache-Control": A_YEAR})


@routes.patch(
    "/{key}",
    summary="Edit a photo",
    responses=answers(PhotoOut, "A photo as it is now.", 404, 409, *BODY),
    openapi_extra=body("PhotoEdit", edit={"version": 1, "changes": {"caption": "the heel knot"}}),
)
def change(database: Database, key: Key, typed: JsonObject) -> Answer:
    """Write something else under a photo: a caption that is given replaces, null erases."""
    wanted = shape_from(EditIn, typed)
    changes = shape_from(PhotoChanges, wanted.changes)

    def edit(session: Session) -> tuple[keeping.Photo, int | None]:
        number = None
        if "caption" in changes.model_fields_set:
            words = changes.caption or ""
            number = keeping.caption_photo(session, key, words, version=wanted.version)
        return keeping.photo(session, key), number

    photo, number = write(database, edit)
    return Answer(_json(photo, change=number, findings=[]))


@routes.delete(
    "/{key}", summary="Remove a photo", responses=answers(Removed, "A photo was removed.", 404, 409)
)
def delete(database: Database, key: Key, version: Version) -> Answer:
    """Remove a photo; it can be undone."""
    number = write(database, lambda session: keeping.remove_photo(session, key, version=version))
    return Answer({"change": number})


def _json(photo: keeping.Photo, **more: Any) -> dict[str, Any]:
    return {
        "key": photo.number,
        "version": photo.version,
        "whip": photo.whip,
        "caption": photo.caption,
        "width": photo.width,
        "height": photo.height,
        "picture": f"{PREFIX}/photos/{photo.number}/picture",
        **more,
    }
