"""The workshop as a whole: import, export, backups, settings, history."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from plaitlog.service.database import reading
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.rendering import page
from plaitlog.service.usecases.overview import counts
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)


@routes.get("/workshop")
def workshop(request: Request, database: Database) -> Response:
    with reading(database) as session:
        found = counts(session)
        said = banner(request, session)
    places = [
        ("/import", "Import", "whips and cords from a spreadsheet or a file, each row shown first", ""),
        ("/export", "Export", "everything out again, for a spreadsheet or for another program", ""),
        ("/backups", "Backups", "copies of the whole workshop, made and put back", ""),
        ("/makers", "Makers", "whose whips these are", str(found.makers)),
        ("/changes", "History", "every change, with undo and redo", str(found.changes)),
        ("/settings", "Settings", "units, number style, maker", ""),
    ]
    data = {
        "places": [
            {"address": address, "name": name, "words": words, "count": count}
            for address, name, words, count in places
        ],
        "counts": {
            "whips": found.whips,
            "cords": found.cords,
            "readings": found.readings,
            "rating sessions": found.ratings,
            "fits": found.fits,
        },
        "records": database.url.render_as_string(hide_password=True)
        if database.url.database is None or database.dialect.name != "sqlite"
        else database.url.database,
        "banner": said,
    }
    return page(request, "workshop.html", data)
