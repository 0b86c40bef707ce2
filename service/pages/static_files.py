"""The style sheet, the scripts and the icon of the pages."""

from pathlib import PurePath
from typing import Final

from fastapi import APIRouter
from fastapi.responses import Response

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.service.pages.rendering import static_files

routes = APIRouter(include_in_schema=False)
MEDIA: Final = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
A_YEAR: Final = "public, max-age=31536000, immutable"


@routes.get("/static/{digest}/{name}")
def one(digest: str, name: str) -> Response:
    """A file by name. The digest only makes the address new when the content is."""
    found = static_files().get(name)
    if found is None:
        raise NotFoundError(Finding("file-not-found", f"there is no file {name!r} here", "reload the page"))
    return Response(found, media_type=MEDIA[PurePath(name).suffix], headers={"Cache-Control": A_YEAR})
