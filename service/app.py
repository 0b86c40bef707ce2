"""The web application, put together from its parts: nothing is global, two may run side by side."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version
from threading import Lock

from fastapi import FastAPI

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
from plaitlog.service.api.guard import Guard
from plaitlog.service.migrate import ready_engine
from plaitlog.service.settings import Settings

NOUNS = (
    makers,
    cords,
    stock,
    whips,
    readings,
    ratings,
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
"""In the order of the work; each has ``routes``."""


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

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        yield
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
    app.state.fitting = Lock()
    app.state.routes = [route for noun in NOUNS for route in noun.routes.routes]
    app.add_middleware(Guard, allow_lan=settings.allow_lan)
    refusals.register(app)
    for noun in NOUNS:
        app.include_router(noun.routes)
    description.register(app)
    return app
