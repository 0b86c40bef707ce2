"""The history of changes: every edit and every import, undone and done again."""

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.documented import LOCATION, PREFIX, answers, router
from plaitlog.service.api.parameters import Database, Key
from plaitlog.service.database import write
from plaitlog.service.schemas.history import UndoneOut
from plaitlog.service.usecases import undoing
from plaitlog.service.usecases.undoing import Undone

routes = router("history")


@routes.post(
    "/{key}/undo",
    summary="Undo a change",
    status_code=201,
    responses=answers(UndoneOut, "The change is undone.", 404, 409, status=201, headers=LOCATION),
)
def undo(database: Database, key: Key) -> Answer:
    """Take a change back, whole: rows, numbers and versions are as they were before it.

    It is refused (409) where a later change stands in the way; the findings name it.
    """
    return _undone(write(database, lambda session: undoing.undo(session, key)))


@routes.post(
    "/{key}/redo",
    summary="Do a change again",
    status_code=201,
    responses=answers(UndoneOut, "The change is done again.", 404, 409, status=201, headers=LOCATION),
)
def redo(database: Database, key: Key) -> Answer:
    """Make a change again that was undone; refused (409) where a later change stands in the way."""
    return _undone(write(database, lambda session: undoing.redo(session, key)))


def _undone(undone: Undone) -> Answer:
    answer = {"change": undone.number, "action": undone.action, "of": undone.of}
    return Answer(answer, 201, headers={"Location": f"{PREFIX}/history/{undone.number}"})
