"""What the description of an operation says: every status it may answer with, bodies with examples."""

from collections.abc import Mapping
from typing import Any, Final

from fastapi import APIRouter, Depends
from pydantic import BaseModel

from plaitlog.service.api.parameters import known_parameters

PREFIX: Final = "/api/v1"
FAILURES: Final = {
    400: "What was sent cannot be decoded: not UTF-8, not JSON, a key twice in one object.",
    403: "The request was made under a foreign host name, or by a page from elsewhere.",
    404: "It is not in the workshop; the remedy names what resembles it most.",
    409: "It cannot be done as things stand: the same is there already, it was changed since it was read "
    "(then both values are given), other records need it, or too little is known.",
    413: "More was sent than is taken at once.",
    415: "The kind of content is not one that is taken here.",
    422: "What was sent cannot be taken; each finding says where, what is wrong, and how to mend it.",
    500: "Something went wrong inside the program; nothing was written.",
    503: "Somebody else is writing, or the database cannot be reached; try again after the time stated.",
}
ALWAYS: Final = (403, 422, 500, 503)
"""Statuses that every operation may answer with."""
BODY: Final = (400, 413, 415)
"""Statuses of operations that something is sent to."""


def router(noun: str) -> APIRouter:
    """The routes of one noun."""
    return APIRouter(prefix=f"{PREFIX}/{noun}", tags=[noun], dependencies=[Depends(known_parameters)])


def answers(
    model: type[BaseModel],
    description: str,
    *failures: int,
    status: int = 200,
    headers: Mapping[str, Any] | None = None,
) -> dict[int | str, dict[str, Any]]:
    """Every status of an operation; ``model`` is the shape of its good answer."""
    good: dict[str, Any] = {"model": model, "description": description}
    if headers:
        good["headers"] = dict(headers)
    return {status: good, **failing(*failures)}


_FAILURE: Final = {"application/json": {"schema": {"$ref": "#/components/schemas/Failure"}}}


def failing(*failures: int) -> dict[int | str, dict[str, Any]]:
    found: dict[int | str, dict[str, Any]] = {}
    for status in sorted({*ALWAYS, *failures}):
        found[status] = {"description": FAILURES[status], "content": _FAILURE}
    found[503]["headers"] = {
        "Retry-After": {"description": "Seconds to wait, s.", "schema": {"type": "integer", "minimum": 0}}
    }
    return found


def body(shape: str, **examples: Any) -> dict[str, Any]:
    """A JSON body of a shape that the description holds, with examples by name."""
    content = {
        "schema": {"$ref": f"#/components/schemas/{shape}"},
        "examples": {name: {"value": value} for name, value in examples.items()},
    }
    return {"requestBody": {"required": True, "content": {"application/json": content}}}


LOCATION: Final = {
    "Location": {"description": "Where it is now.", "schema": {"type": "string", "format": "uri-reference"}}
}
