"""Reading what is sent: never more than the limit, never guessed at.

JSON bodies are held to the same rules as a line of a file: UTF-8, no key twice, no NaN. A file to import goes
to a temporary file, so that a large one costs no memory; a picture is small beside what it is decoded to.
"""

import math
import tempfile
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Annotated, Any, BinaryIO, Final, cast

from fastapi import Depends, Request

from plaitlog.models.errors import Finding
from plaitlog.service.api.refusals import Refused
from plaitlog.service.settings import Settings
from plaitlog.service.usecases.json_lines import parse_line
from plaitlog.service.usecases.photos.encoding import BYTES_AT_MOST

IN_MEMORY_BYTES: Final = 1_000_000
NESTED_AT_MOST: Final = 40
JSON: Final = "application/json"
JSON_LINES: Final = ("application/jsonl", "application/x-ndjson")
CSV: Final = "text/csv"
XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
UPLOADS: Final = (*JSON_LINES, CSV, XLSX)
PICTURES: Final = ("image/jpeg", "image/png", "image/webp")


@dataclass(frozen=True, slots=True)
class Upload:
    """A file that was sent: its content, its length in bytes and its content type."""

    stream: BinaryIO
    size_bytes: int
    content_type: str


async def json_object(request: Request) -> dict[str, Any]:
    """The JSON object that was sent: 400 where it cannot be decoded, 413 too long, 415 not JSON."""
    _content_type(request, (JSON,))
    settings: Settings = request.app.state.settings
    parts = [part async for part in _parts(request, settings.body_limit_bytes, _raising("body_limit_bytes"))]
    raw = b"".join(parts)
    if not raw.strip():
        raise _bad(Finding("empty", "nothing was sent", "send a JSON object", "body"))
    line = parse_line(raw)
    if line.refusal is not None:
        raise _bad(line.refusal if line.refusal.where else line.refusal.at("body"))
    if not isinstance(line.data, dict):
        raise Refused(422, Finding("not-an-object", "a JSON object is wanted", "write {...}", "body"))
    _check(line.data, NESTED_AT_MOST)
    return line.data


async def upload(request: Request) -> AsyncIterator[Upload]:
    """The file that was sent; gone when the request is answered."""
    content_type = _content_type(request, UPLOADS)
    settings: Settings = request.app.state.settings
    with tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES) as stream:
        size = 0
        remedy = _raising("upload_limit_bytes")
        async for part in _parts(request, settings.upload_limit_bytes, remedy):
            stream.write(part)
            size += len(part)
        stream.seek(0)
        yield Upload(cast("BinaryIO", stream), size, content_type)


async def picture(request: Request) -> bytes:
    """The picture that was sent, whatever it holds: 413 too large, 415 of a kind that is not taken."""
    _content_type(request, PICTURES)
    settings: Settings = request.app.state.settings
    limit = min(settings.upload_limit_bytes, BYTES_AT_MOST)
    return b"".join([part async for part in _parts(request, limit, "send a smaller copy of it")])


JsonObject = Annotated[dict[str, Any], Depends(json_object)]
UploadedFile = Annotated[Upload, Depends(upload)]
SentPicture = Annotated[bytes, Depends(picture)]


def _content_type(request: Request, known: tuple[str, ...]) -> str:
    given = request.headers.get("content-type", "")
    kind = given.partition(";")[0].strip().lower()
    if kind not in known:
        text = f"{given[:200]!r} cannot be taken here" if given else "the kind of content is not said"
        raise Refused(415, Finding("content-type", text, f"send {' or '.join(known)}", "Content-Type"))
    return kind


def _raising(setting: str) -> str:
    return f"send less at once, or raise PLAITLOG_{setting.upper()}"


async def _parts(request: Request, limit_bytes: int, remedy: str) -> AsyncIterator[bytes]:
    too_long = Refused(
        413,
        Finding(
            "too-long",
            f"more than {limit_bytes:,} bytes were sent".replace(",", " "),
            remedy,
            "body",
        ),
    )
    stated = request.headers.get("content-length", "")
    if stated.isdecimal() and (len(stated) > 15 or int(stated) > limit_bytes):
        raise too_long
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > limit_bytes:
            raise too_long
        yield part


def _bad(finding: Finding) -> Refused:
    return Refused(400, finding)


def _check(data: Any, levels: int) -> None:
    """Refuse what cannot be written as JSON again (1e999 is read as infinite) and nesting without end."""
    if isinstance(data, float) and not math.isfinite(data):
        raise _bad(Finding("not-finite", "a number is too large for JSON", "check the numbers", "body"))
    if isinstance(data, dict | list):
        if levels == 0:
            raise _bad(Finding("too-deep", "is nested too deeply", "see the keys and values", "body"))
        for part in data.values() if isinstance(data, dict) else data:
            _check(part, levels - 1)
