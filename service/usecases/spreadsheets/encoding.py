"""In which encoding a text file is written: by its byte order mark, by proof, or by a guess that is said.

A file whose every byte is valid UTF-8 is UTF-8: text in another encoding hardly ever is by accident. What is
neither is guessed from the lines that hold more than ASCII, and the guess is a finding. A byte that cannot be
decoded becomes half of a surrogate pair, which no sound text holds, so that its row can be refused.
"""

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO, Final

from plaitlog.models.errors import Finding, TableError

MARKED: Final = "plaitlog-marked"
UNDECODABLE: Final = re.compile("[\ud800-\udfff]")

_MARKS: Final = (  # that of UTF-32 begins like that of UTF-16
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_CHUNK: Final = 1 << 20
_SAMPLE: Final = 1 << 16


@dataclass(frozen=True, slots=True)
class Encoding:
    """Name of a Python codec, bytes to pass over at the start, and the finding where it was guessed."""

    name: str
    mark_bytes: int = 0
    finding: Finding | None = None


def find_encoding(stream: BinaryIO, stated: str | None = None) -> Encoding:
    """The encoding of a seekable stream, which is left at its start.

    Parameters
    ----------
    stated : the name the maker gives; a byte order mark goes before it.

    Raises
    ------
    TableError
        Where ``stated`` is no encoding.
    """
    start = stream.read(_SAMPLE)
    stream.seek(0)
    for mark, name in _MARKS:
        if start.startswith(mark):
            return Encoding(name, len(mark))
    if stated is not None:
        return Encoding(_known(stated))
    if (wide := _wide(start)) is not None:
        return Encoding(wide, 0, _guessed(wide, "every other byte is 0"))
    sound, damaged = _as_utf_8(stream)
    if damaged <= sound:
        return Encoding("utf-8")
    return _legacy(stream)


def undecodable(line: str, encoding: str) -> Finding | None:
    """The first byte of a decoded line that could not be decoded."""
    if (found := UNDECODABLE.search(line)) is None:
        return None
    place = len(line[: found.start()].encode(encoding)) + 1
    byte = ord(found.group()) - 0xDC00
    before = line[max(0, found.start() - 20) : found.start()]
    return Finding(
        "not-decodable",
        f"byte {place} of the line (0x{byte:02X}, after {before!r}) is not {encoding.upper()}",
        "type the character anew and save the file as UTF-8, or name the file's encoding",
    )


def _mark(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return "".join(chr(0xDC00 + byte) for byte in error.object[error.start : error.end]), error.end


codecs.register_error(MARKED, _mark)


def _known(stated: str) -> str:
    try:
        found = codecs.lookup(stated)
        "".encode(found.name)  # some codecs of Python turn bytes into bytes
    except (LookupError, ValueError) as error:
        raise TableError(
            Finding("encoding", f"{stated!r} is not an encoding", "write utf-8, utf-16, cp1252 or another")
        ) from error
    return found.name


def _wide(start: bytes) -> str | None:
    """UTF-16 without its mark: of the ASCII in it every other byte is 0."""
    pairs = len(start) // 2
    first = start[0 : 2 * pairs : 2].count(0)
    second = start[1 : 2 * pairs : 2].count(0)
    if second > 0.4 * pairs and first < 0.05 * pairs:
        return "utf-16-le"
    if first > 0.4 * pairs and second < 0.05 * pairs:
        return "utf-16-be"
    return None


def _as_utf_8(stream: BinaryIO) -> tuple[int, int]:
    """Bytes beyond ASCII that are part of a sound character, and bytes that are not."""
    decoder = codecs.getincrementaldecoder("utf-8")(MARKED)
    sound = damaged = 0
    for chunk in _chunks(stream):
        text = decoder.decode(chunk, final=not chunk)
        if text.isascii():
            continue
        wrong = len(UNDECODABLE.findall(text))
        damaged += wrong
        sound += len(text.encode("utf-8", "replace")) - len(text)
    stream.seek(0)
    return sound, damaged


def _chunks(stream: BinaryIO) -> Iterator[bytes]:
    """The stream in pieces, and an empty one at its end."""
    while chunk := stream.read(_CHUNK):
        yield chunk
    yield b""


def _legacy(stream: BinaryIO) -> Encoding:
    from plaitlog.service.usecases.spreadsheets.legacy_encoding import guess

    sample = _beyond_ascii(stream)
    name = guess(sample)
    text = sample.decode(name, "replace")
    place = next(k for k, character in enumerate(text) if not character.isascii())
    example = text[max(0, place - 15) : place + 15].strip()
    return Encoding(name, 0, _guessed(name, f"it holds {example!r}"))


def _beyond_ascii(stream: BinaryIO) -> bytes:
    """Up to 64 kB of the lines that hold more than ASCII."""
    kept: list[bytes] = []
    size = 0
    while size < _SAMPLE and (line := stream.readline(_SAMPLE)):
        if not line.isascii():
            kept.append(line)
            size += len(line)
    stream.seek(0)
    return b"".join(kept)


def _guessed(name: str, evidence: str) -> Finding:
    return Finding(
        "encoding-guessed",
        f"the file does not say its encoding; it was read as {name.upper()}: {evidence}",
        "check the letters with accents; where they are wrong save the file as UTF-8",
    )
