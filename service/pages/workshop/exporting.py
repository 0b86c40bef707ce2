"""Everything out again: each file with a word on what it is for."""

from collections.abc import Iterator
from typing import Final

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.service import exports
from plaitlog.service.database import reading
from plaitlog.service.pages.rendering import page
from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.photos.exporting import count_photos
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.workshop import is_empty
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)
FOR: Final = {
    "makers": "Who plaited",
    "cords": "Cords with what was measured of them",
    "stock": "What lies on the shelf, by colour and lot",
    "whips": "A row a whip, with weight, balance and finish",
    "layers": "A row a layer, strands as a line",
    "turn-lengths": "How far along the thong a strand needs for one turn",
    "weighings": "Further weights of a whip",
    "cord-used": "Metres of each cord that went into a whip",
    "readings": "A row a reading: every diameter there is",
    "ratings": "A row a rating session",
    "notebook": "A row a whip and a column a station, as one reads it; it does not hold layers",
}
ZIP: Final = "application/zip"


@routes.get("/export")
def everything(request: Request, database: Database) -> Response:
    with reading(database) as session:
        data = {
            "empty": is_empty(session),
            "photos": count_photos(session),
            "fit": fit_in_force(session).number,
            "tables": [
                {"name": name.replace("-", " "), "file": f"{name}.csv", "words": FOR[name]}
                for name in exports.KNOWN
            ],
        }
    return page(request, "export.html", data)


@routes.get("/export/records.jsonl")
def records(database: Database) -> Response:
    return _file(exports.lines(database), "records.jsonl", exports.JSON_LINES)


@routes.get("/export/workshop.xlsx")
def workbook(database: Database) -> Response:
    return _file(exports.workbook(database), "workshop.xlsx", exports.XLSX)


@routes.get("/export/tables.zip")
def tables(database: Database) -> Response:
    return _file(exports.tables_zip(database), "tables.zip", ZIP)


@routes.get("/export/photos.zip")
def photos(database: Database) -> Response:
    return _file(exports.photos(database), "photos.zip", ZIP)


@routes.get("/export/tables/{file}")
def one_table(database: Database, file: str) -> Response:
    name = file.removesuffix(".csv")
    parts = exports.table(database, name)
    return _file(parts, f"{name}.csv", exports.CSV)


@routes.get("/export/fit.html")
def fit_report(database: Database) -> Response:
    """The report on the fit in force as one file that needs no server."""
    from plaitlog.service.reports.fit_page import to_html
    from plaitlog.service.usecases.reporting_fit import report_of

    with reading(database) as session:
        number = fit_in_force(session).number
        if number is None:
            raise NotFoundError(Finding("no-fit", "there is no fit yet", "make one on the page Fit"))
        report = report_of(session, number, preferences().shown, with_plaits=False)
    return Response(to_html(report), media_type="text/html", headers=exports.attached(f"fit-{number}.html"))


def _file(parts: Iterator[bytes], name: str, media: str) -> Response:
    return StreamingResponse(parts, media_type=media, headers=exports.attached(name))
