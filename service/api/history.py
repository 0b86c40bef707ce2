"""The history of changes: every edit and every import, undone and done again."""

from typing import Annotated, Any, Literal

from fastapi import Query

from plaitlog.service.api.answers import Answer
from plaitlog.service.api.documented import LOCATION, PREFIX, answers, router
from plaitlog.service.api.parameters import KEY_LIMIT, Database, Filter, Key, PageSize, filter_by
from plaitlog.service.database import reading, write
from plaitlog.service.schemas.history import ChangeOut, ChangesOut, UndoneOut
from plaitlog.service.usecases.changes import history, undoing
from plaitlog.service.usecases.changes.history import ChangeInList
from plaitlog.service.usecases.changes.undoing import Undone

routes = router("history")
Kind = Literal["maker", "cord", "stock", "whip", "reading", "rating"]


@routes.get("", summary="List changes", responses=answers(ChangesOut, "Changes, the latest first.", 404))
def list_all(
    database: Database,
    limit: PageSize = 50,
    before: Annotated[
        int | None, Query(ge=1, le=KEY_LIMIT, description="Only changes with a smaller number.")
    ] = None,
    kind: Annotated[
        Kind | None, Query(description="Only changes of this kind of record, and of what belongs to it.")
    ] = None,
    name: Annotated[Filter, filter_by("Only changes of what goes, or went, by this name.")] = None,
) -> Answer:
    """Changes, the latest first, with the first records that each touched; go on `before` the last."""
    with reading(database) as session:
        found = history.history(session, kind=kind, name=name, limit=limit, before=before)
    return Answer({"items": list(map(change_json, found))})


@routes.get("/{key}", summary="One change", responses=answers(ChangeOut, "The change.", 404))
def one(database: Database, key: Key) -> Answer:
    """A change by its number, with every record that it touched."""
    with reading(database) as session:
        return Answer(change_json(history.change(session, key)))


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


def change_json(change: ChangeInList) -> dict[str, Any]:
    return {
        "change": change.number,
        "created_at": change.created_at.isoformat(),
        "actor": change.actor,
        "action": change.action,
        "subject": change.subject,
        "of": change.of,
        "undone": change.undone,
        "undoable": change.undoable,
        "touched": dict(change.touched),
        "entries": [
            {
                "kind": entry.kind,
                "name": entry.name,
                "summary": entry.words,
                "before": entry.before,
                "after": entry.after,
            }
            for entry in change.entries
        ],
    }
