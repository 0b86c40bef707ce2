"""Photos of whips: shown, added, written under, removed."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.database import reading, write
from plaitlog.service.pages.forms import Form, Posted
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import go_to, page, path_of
from plaitlog.service.usecases.photos.encoding import EncodedPhoto, encoded
from plaitlog.service.usecases.photos.keeping import add_photos, caption_photo, photo, picture, remove_photo
from plaitlog.service.web_requests import Database, Key

routes = APIRouter(include_in_schema=False)
A_YEAR = "private, max-age=31536000, immutable"
"""The picture under a number never changes."""


@routes.get("/photos/{number}/{size}")
def shown(database: Database, number: Key, size: str) -> Response:
    if size not in {"whole", "small"}:
        raise InputError(Finding("no-such-size", f"there is no size {size!r}", "ask for whole or small"))
    with reading(database) as session:
        content = picture(session, number, small=size == "small")
    return Response(content, media_type="image/jpeg", headers={"Cache-Control": A_YEAR})


@routes.post("/photos")
def add(request: Request, database: Database, form: Posted) -> Response:
    """Add what can be read; of what cannot it is told why, and the rest is added all the same."""
    label = form.text("whip")
    pictures, refused = _encoded(form)
    if not pictures and not refused:
        refused = [Finding("no-photo", "no photo was chosen", "choose one or more files", "photo")]
    words = form.text("caption")
    number = None
    if pictures:
        number = write(database, lambda session: add_photos(session, label, pictures, words)).number
    if not refused:
        return go_to(_back(label, number))
    data = {
        "label": label,
        "added": len(pictures),
        "refused": [told(one) for one in refused],
        "back": _back(label, number),
    }
    return page(request, "photos_refused.html", data, 422)


@routes.post("/photos/{number}/caption")
def caption(database: Database, number: Key, form: Posted) -> Response:
    with reading(database) as session:
        label = photo(session, number).whip
    words, version = form.text("caption"), form.number("version")
    done = write(database, lambda session: caption_photo(session, number, words, version=version))
    return go_to(_back(label, done))


@routes.post("/photos/{number}/remove")
def remove(database: Database, number: Key, form: Posted) -> Response:
    with reading(database) as session:
        label = photo(session, number).whip
    done = write(database, lambda session: remove_photo(session, number, version=form.number("version")))
    return go_to(_back(label, done))


def _encoded(form: Form) -> tuple[list[EncodedPhoto], list[Finding]]:
    """What was sent, encoded anew before anything is locked, and what of it cannot be taken."""
    pictures, refused = [], []
    for file in form.files("photo"):
        try:
            pictures.append(encoded(file.stream.read(), file.name))
        except InputError as error:
            refused.append(error.finding)
    return pictures, refused


def _back(label: str, change: int | None) -> str:
    return path_of("whips", label) + ("" if change is None else f"?change={change}") + "#photos"
