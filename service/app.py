"""The web application, put together from its parts: nothing is global, two may run side by side."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version
from threading import Lock
from typing import Any

from fastapi import FastAPI, Request
from starlette.responses import Response
from starlette.types import ASGIApp, Scope

from plaitlog.models.errors import Finding
from plaitlog.service.api import (
    advice,
    bench,
    charts,
    cords,
    description,
    exports,
    fits,
    handling,
    health,
    history,
    imports,
    makers,
    photos,
    plans,
    predictions,
    ratings,
    readings,
    refusals,
    stock,
    tapers,
    whips,
)
from plaitlog.service.api.documented import PREFIX
from plaitlog.service.guard import Guard
from plaitlog.service.jobs import Jobs
from plaitlog.service.migrate import ready_engine
from plaitlog.service.pages import refusals as told
from plaitlog.service.pages.places import PLACES
from plaitlog.service.settings import Settings

NOUNS = (
    makers,
    cords,
    stock,
    whips,
    readings,
    ratings,
    photos,
    imports,
    exports,
    fits,
    handling,
    predictions,
    plans,
    bench,
    advice,
    charts,
    tapers,
    history,
    health,
)
"""What programs speak to, in the order of the work; each has ``routes``."""
FOR_PROGRAMS = ("/api", "/healthz", "/readyz")


def create_app(settings: Settings | None = None) -> FastAPI:
    """An application on the database of the settings, which is brought up to date first.

    Raises
    ------
    DatabaseError
        Where the database cannot be used.
    """
    settings = settings or Settings()
    engine, _ = ready_engine(
        settings.database, busy_timeout_s=settings.busy_timeout_s, backups_kept=settings.backups_kept
    )

    jobs = Jobs(engine, busy_timeout_s=settings.busy_timeout_s)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        jobs.open()
        yield
        jobs.close()
        engine.dispose()

    app = FastAPI(
        title="Plaitlog",
        summary="Build log, fits and predictions for plaited cord whips.",
        description=description.INTRODUCTION,
        version=version("plaitlog"),
        openapi_url=f"{PREFIX}/openapi.json",
        docs_url=None,  # the usual page loads scripts from elsewhere
        redoc_url=None,
        redirect_slashes=False,
        separate_input_output_schemas=False,
        lifespan=lifespan,
    )
    app.state.settings = settings
    app.state.engine = engine
    app.state.jobs = jobs
    app.state.fitting = Lock()
    app.state.routes = [route for noun in NOUNS for route in noun.routes.routes]
    app.add_middleware(Guard, refuse=_refuse, allow_lan=settings.allow_lan)
    for kind in refusals.HANDLERS:
        app.add_exception_handler(kind, _handle)
    for noun in NOUNS:
        app.include_router(noun.routes)
    description.register(app)
    for place in PLACES:
        app.include_router(place.routes)
    return app


def _is_person(request: Request) -> bool:
    """Whether somebody looks at the answer, in a browser: whoever does not ask for HTML is a program."""
    accepts = request.headers.get("accept", "")
    return "text/html" in accepts and not request.url.path.startswith(FOR_PROGRAMS)


def _handle(request: Request, error: Exception) -> Response:
    """Tell what went wrong in the way of whoever asked."""
    handlers: Any = told.HANDLERS if _is_person(request) else refusals.HANDLERS
    kind = next(kind for kind in handlers if isinstance(error, kind))
    answer: Response = handlers[kind](request, error)
    return answer


def _refuse(scope: Scope, status: int, finding: Finding) -> ASGIApp:
    request = Request(scope)
    if _is_person(request):
        return told.refusal_page(request, status, finding)
    return refusals.failure(status, finding)
