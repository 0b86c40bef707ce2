"""Whether the server runs, and whether it can do its work."""

from fastapi import APIRouter, Depends

from plaitlog.models.errors import DatabaseError, Finding
from plaitlog.service.api.answers import Answer
from plaitlog.service.api.documented import answers
from plaitlog.service.api.parameters import Database, known_parameters
from plaitlog.service.database import reading
from plaitlog.service.migrate import HEAD
from plaitlog.service.revisions import current_revision
from plaitlog.service.schemas.calculated import Alive, Ready

routes = APIRouter(tags=["health"], dependencies=[Depends(known_parameters)])


@routes.get("/healthz", summary="Is the server alive", responses=answers(Alive, "It is."))
def alive() -> Answer:
    """Answers whenever the server runs, whatever the state of the database."""
    return Answer({"status": "alive"})


@routes.get("/readyz", summary="Is the server ready", responses=answers(Ready, "It is."))
def ready(database: Database) -> Answer:
    """Answers 503 where the database cannot be reached, or its tables are of another version."""
    with reading(database) as session:
        revision = current_revision(session.connection())
    if revision != HEAD:
        text = f"the tables are of revision {revision or 'none'}, this version works with {HEAD}"
        raise DatabaseError(Finding("other-revision", text, "start the server again"))
    return Answer({"status": "ready", "database": database.dialect.name, "revision": revision})
