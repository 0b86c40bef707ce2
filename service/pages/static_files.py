"""The style sheet, the scripts and the icon of the pages."""

from pathlib import PurePath
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.service.pages.rendering import STATIC

routes = APIRouter(include_in_schema=False)
MEDIA: Final = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
A_YEAR: Final = "public, max-age=31536000, immutable"


@routes.get("/static/{digest}/{name}")
def one(digest: str, name: str) -> Response:
    """A file by name. The digest only makes the address new when the content is."""
    known = {file.name for file in STATIC.iterdir() if PurePath(file.name).suffix in MEDIA}
    if name not in known:
        raise NotFoundError(Finding("file-not-found", f"there is no file {name!r} here", "reload the page"))
    media = MEDIA[PurePath(name).suffix]
    return Response((STATIC / name).read_bytes(), media_type=media, headers={"Cache-Control": A_YEAR})
