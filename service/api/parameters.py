"""What routes ask of a request: the database, a page of a list, a name, a version."""

from typing import Annotated, Any, Final

from fastapi import Depends, Header, Path, Query, Request
from pydantic import AfterValidator, StringConstraints
from sqlalchemy import Engine
from starlette.convertors import Convertor, register_url_convertor

from plaitlog.models.errors import Finding, InputError, NotFoundError, nearest_or
from plaitlog.service.settings import Settings
from plaitlog.service.usecases.json_lines import unstorable

PAGE_LIMIT: Final = 200
KEY_LIMIT: Final = 2**31 - 1
"""Largest number that a key or version has on either kind of database."""
REPEATABLE: Final = frozenset({"map", "units", "sheet"})
"""Parameters in an address that take a list by being given several times."""


class _NameInPath(Convertor[str]):
    """The rest of a path, whatever it holds: slashes and, unlike the usual one, line breaks too."""

    regex = r"[\s\S]*"

    def convert(self, value: str) -> str:
        return value

    def to_string(self, value: str) -> str:
        return value


register_url_convertor("name", _NameInPath())


async def _engine(request: Request) -> Engine:
    found: Engine = request.app.state.engine
    return found


async def _settings(request: Request) -> Settings:
    found: Settings = request.app.state.settings
    return found


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


def _nameable(name: str) -> str:
    if unstorable(name) is not None:
        raise NotFoundError(Finding("not-found", f"nothing goes by the name {name!r}", "check the name"))
    return name


Database = Annotated[Engine, Depends(_engine)]
Limits = Annotated[Settings, Depends(_settings)]
PageSize = Annotated[int, Query(ge=1, le=PAGE_LIMIT, description="Number of items on a page, 1 to 200.")]
Offset = Annotated[int, Query(ge=0, le=KEY_LIMIT, description="Number of items before the page.")]
Name = Annotated[
    str,
    Path(min_length=1, description="The name, percent-encoded; it may hold slashes, blanks and dots."),
    AfterValidator(_nameable),
]
Key = Annotated[int, Path(ge=1, le=KEY_LIMIT, description="Its number in the workshop.")]
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
Filter = Annotated[str | None, AfterValidator(lambda name: None if name is None else _nameable(name))]
