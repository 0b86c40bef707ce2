"""The first page: three ways on in an empty workshop, else what is going on."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from plaitlog.service.database import reading
from plaitlog.service.pages.banners import banner
from plaitlog.service.pages.rendering import page
from plaitlog.service.usecases.workshop import is_empty
from plaitlog.service.web_requests import Database

routes = APIRouter(include_in_schema=False)


@routes.get("/")
def home(request: Request, database: Database) -> Response:
    with reading(database) as session:
        data = {"empty": is_empty(session), "banner": banner(request, session)}
    return page(request, "home.html", data)
