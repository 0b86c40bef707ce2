"""What a form sends, read within limits: texts by field, files by field.

The pages of this server carry no tokens against forged requests: the guard refuses whatever does not come
from a page of its own.
"""

from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Annotated, Any, BinaryIO

from fastapi import Depends, Request
from python_multipart.exceptions import MultipartParseError  # the parser behind Starlette's forms
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.settings import Settings
from plaitlog.service.web_requests import whole_number

FIELDS_AT_MOST = 2_000
FILES_AT_MOST = 20


@dataclass(frozen=True, slots=True)
class SentFile:
    """A file that was sent: its name as its owner called it, its content, its size in bytes."""

    name: str
    stream: BinaryIO
    size_bytes: int


@dataclass(frozen=True, slots=True)
class Form:
    """Texts and files by field. A field that was not sent is empty."""

    data: FormData

    def text(self, field: str) -> str:
        """The text of a field, without blanks around it."""
        found = self.data.get(field, "")
        return found.strip() if isinstance(found, str) else ""

    def raw(self, field: str) -> str:
        """The text of a field exactly as it was typed."""
        found = self.data.get(field, "")
        return found if isinstance(found, str) else ""

    def number(self, field: str) -> int | None:
        """The whole number of a field; None where there is none."""
        return whole_number(self.text(field))

    def all(self, field: str) -> list[str]:
        """Every text of a field that was sent several times."""
        return [one for one in self.data.getlist(field) if isinstance(one, str)]

    def texts(self) -> dict[str, str]:
        """Every field with its text, the last where one was sent several times: to show the form again."""
        return {key: value for key, value in self.data.multi_items() if isinstance(value, str)}

    def has(self, field: str) -> bool:
        return field in self.data

    def files(self, field: str) -> list[SentFile]:
        """The files of a field; a field without a file has none."""
        return [
            SentFile(one.filename or "", one.file, one.size or 0)
            for one in self.data.getlist(field)
            if isinstance(one, UploadFile) and one.filename
        ]


async def posted(request: Request) -> AsyncIterator[Form]:
    """The form of a request; its files are gone when it is answered.

    Raises
    ------
    InputError
        It cannot be read, or is larger than ``upload_limit_bytes``.
    """
    settings: Settings = request.app.state.settings
    limit = settings.upload_limit_bytes
    stated = request.headers.get("content-length", "")
    if stated.isdecimal() and (len(stated) > 15 or int(stated) > limit):
        raise _too_long(limit)
    size = 0
    receive = request.receive

    async def receive_within() -> Any:
        nonlocal size
        message = await receive()
        size += len(message.get("body", b""))
        if size > limit:
            raise _too_long(limit)
        return message

    limited = Request(request.scope, receive_within)
    try:
        data = await limited.form(max_files=FILES_AT_MOST, max_fields=FIELDS_AT_MOST, max_part_size=limit)
    except (MultiPartException, MultipartParseError, HTTPException, UnicodeError) as error:
        text = getattr(error, "detail", None) or str(error)
        raise InputError(Finding("form", f"the form cannot be read: {text}", "send it again")) from error
    try:
        yield Form(data)
    finally:
        await data.close()


def _too_long(limit: int) -> InputError:
    text = f"more than {limit:,} bytes were sent".replace(",", " ")
    return InputError(Finding("too-long", text, "send less at once, or raise PLAITLOG_UPLOAD_LIMIT_BYTES"))


Posted = Annotated[Form, Depends(posted)]
