"""What every route, of the API or of a page, takes from a request: the database, the settings, a name."""

from typing import Annotated, Final

from fastapi import Depends, Path, Request
from pydantic import AfterValidator
from sqlalchemy import Engine
from starlette.convertors import Convertor, register_url_convertor

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.service.settings import Settings
from plaitlog.service.usecases.json_lines import unstorable

KEY_LIMIT: Final = 2**31 - 1
"""Largest number that a key or version has on either kind of database."""


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


def whole_number(text: str) -> int | None:
    """The whole number that a field or an address holds, KEY_LIMIT at most; None where it holds none."""
    if not (text.isascii() and text.isdecimal()):
        return None
    return min(int(text), KEY_LIMIT) if len(text) <= 10 else KEY_LIMIT


def nameable(name: str) -> str:
    """The name as it is; what no record can be called is not found."""
    if unstorable(name) is not None:
        raise NotFoundError(Finding("not-found", f"nothing goes by the name {name!r}", "check the name"))
    return name


Database = Annotated[Engine, Depends(_engine)]
Limits = Annotated[Settings, Depends(_settings)]
Name = Annotated[
    str,
    Path(min_length=1, description="The name, percent-encoded; it may hold slashes, blanks and dots."),
    AfterValidator(nameable),
]
Key = Annotated[int, Path(ge=1, le=KEY_LIMIT, description="Its number in the workshop.")]
