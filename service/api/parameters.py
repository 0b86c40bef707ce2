"""What routes ask of a request: the database, a page of a list, a name, a version."""

from typing import Annotated, Any, Final

from fastapi import Header, Query, Request
from pydantic import AfterValidator, StringConstraints

from plaitlog.models.errors import Finding, InputError, nearest_or
from plaitlog.service.web_requests import KEY_LIMIT, Database, Key, Limits, Name, nameable

__all__ = ["KEY_LIMIT", "Database", "Key", "Limits", "Name"]

PAGE_LIMIT: Final = 200
REPEATABLE: Final = frozenset({"map", "units", "sheet"})
"""Parameters in an address that take a list by being given several times."""


async def known_parameters(request: Request) -> None:
    """Refuse a parameter in the address that is not known here or given twice: none is passed over."""
    known = [parameter.alias for parameter in request.scope["route"].dependant.query_params]
    names = [name for name, _ in request.query_params.multi_items()]
    for name in names:
        where = f"query, {name}"
        if name not in known:
            remedy = nearest_or(name, known, f"known are {', '.join(known)}" if known else "leave it out")
            raise InputError(Finding("unknown-parameter", f"{name!r} is not known here", remedy, where))
        if names.count(name) > 1 and name not in REPEATABLE:
            raise InputError(Finding("parameter-twice", f"{name!r} is given twice", "give it once", where))


PageSize = Annotated[int, Query(ge=1, le=PAGE_LIMIT, description="Number of items on a page, 1 to 200.")]
Offset = Annotated[int, Query(ge=0, le=KEY_LIMIT, description="Number of items before the page.")]
Version = Annotated[
    int,
    Query(ge=0, le=KEY_LIMIT, description="The version that was read; an older one than stored is refused."),
]
IdempotencyKey = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        min_length=1,
        max_length=200,
        description="Any text, the same for each attempt to send the same thing: if an earlier attempt was "
        "taken, the answer is given again and nothing is added twice.",
    ),
]


def filter_by(description: str) -> Any:
    """A parameter that narrows a list to one name."""
    return Query(min_length=1, max_length=200, description=description)


Names = list[Annotated[str, StringConstraints(min_length=1, max_length=200)]] | None
Filter = Annotated[str | None, AfterValidator(lambda name: None if name is None else nameable(name))]
