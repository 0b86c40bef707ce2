"""Exports: everything out again, so that an import takes it back without loss."""

from collections.abc import Iterator
from itertools import chain

from fastapi.responses import StreamingResponse
from sqlalchemy import Engine

from plaitlog.service.api.documented import failing, router
from plaitlog.service.api.parameters import Database
from plaitlog.service.database import reading
from plaitlog.service.usecases.exporting import export_lines

routes = router("exports")


class JsonLines(StreamingResponse):
    """Lines as they are made."""

    media_type = "application/jsonl"


@routes.get(
    "/records.jsonl",
    summary="Export every record",
    response_class=JsonLines,
    responses={
        200: {
            "description": "Every record, one a line: makers, cords, stock, whips, rating sessions.",
            "content": {"application/jsonl": {"schema": {"type": "string"}}},
        },
        **failing(),
    },
)
def records(database: Database) -> StreamingResponse:
    """Every record as one line of JSON; the state is that of one moment."""
    lines = _lines(database)
    first = next(lines, b"")  # what cannot be done is found out before the answer begins
    named = {"Content-Disposition": 'attachment; filename="records.jsonl"'}
    return JsonLines(chain([first], lines), headers=named)


def _lines(database: Engine) -> Iterator[bytes]:
    with reading(database) as session:
        yield from export_lines(session)
