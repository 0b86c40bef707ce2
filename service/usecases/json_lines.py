"""JSON Lines as bytes: one object a line, read in a stream, refused with the line and what is wrong.

Strict where JSON readers are lax: UTF-8 only, no NaN or Infinity, no key twice in one object. A line above
the limit is passed over without being held in memory.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, BinaryIO, Final

from plaitlog.models.errors import Finding

_CHUNK: Final = 65_536
_BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Line:
    """One line that is not blank: its number, from 1, and what it holds or why it cannot be taken."""

    number: int
    data: Any = None
    refusal: Finding | None = None


def read_lines(stream: BinaryIO, limit_bytes: int) -> Iterator[tuple[Line, int]]:
    """Each line that is not blank, with the number of bytes read so far."""
    number = done = 0
    while raw := stream.readline(limit_bytes + 2):
        number += 1
        done += len(raw)
        if len(raw.rstrip(b"\r\n")) > limit_bytes:
            if not raw.endswith(b"\n"):
                done += _skip_to_end_of_line(stream)
            yield Line(number, refusal=_too_long(limit_bytes)), done
            continue
        if number == 1:
            raw = raw.removeprefix(_BYTE_ORDER_MARK)
        if raw.strip():
            yield parse_line(raw, number), done


def holds_lines(start: bytes, name: str) -> bool:
    """Whether a file with this beginning and name holds JSON Lines, and not a table."""
    first = start.removeprefix(_BYTE_ORDER_MARK).lstrip()[:1]
    return first in (b"{", b"[") or name.lower().endswith((".jsonl", ".ndjson", ".json")) or not first


def write_line(record: dict[str, Any]) -> bytes:
    """One record as a line: keys in the order they have, whole numbers without a decimal point."""
    return json.dumps(record, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode() + b"\n"


def _skip_to_end_of_line(stream: BinaryIO) -> int:
    skipped = 0
    while raw := stream.readline(_CHUNK):
        skipped += len(raw)
        if raw.endswith(b"\n"):
            break
    return skipped


def parse_line(raw: bytes, number: int = 1) -> Line:
    """One line, parsed, or why it cannot be taken."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        return Line(number, refusal=_not_utf8(raw, error.start))
    try:
        data = json.loads(text, object_pairs_hook=_object, parse_constant=_constant)
    except json.JSONDecodeError as error:
        return Line(number, refusal=_not_json(text, error))
    except _RefusedError as error:
        return Line(number, refusal=error.finding)
    except (RecursionError, ValueError):  # nested without end, or a number of thousands of digits
        return Line(number, refusal=Finding("not-json", "is nested too deeply or holds a number too long"))
    if "\\u" in text and (wrong := unstorable(data)) is not None:
        return Line(number, refusal=wrong)
    return Line(number, data)


class _RefusedError(Exception):
    def __init__(self, finding: Finding) -> None:
        super().__init__(str(finding))
        self.finding = finding


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _RefusedError(
            Finding("key-twice", f"the key {twice!r} stands twice in one object", "keep one of them", twice)
        )
    return found


def _constant(word: str) -> float:
    raise _RefusedError(
        Finding("not-finite", f"{word} is not a number in JSON", "write a number, or null if not known")
    )


def unstorable(data: Any) -> Finding | None:
    """A text that no database takes: the character 0, or half of a surrogate pair."""
    for where, text in _texts(data, ""):
        if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
            return Finding("not-text", f"{text!r} holds a character that is no text", "take it out", where)
    return None


def _texts(data: Any, where: str) -> Iterable[tuple[str, str]]:
    """Every text with the key it stands under."""
    if isinstance(data, str):
        yield where, data
    elif isinstance(data, list | tuple):
        for number, part in enumerate(data, start=1):
            yield from _texts(part, f"{where} {number}")
    elif isinstance(data, Mapping):
        for key, value in data.items():
            yield where, key
            yield from _texts(value, f"{where}, {key}" if where else key)


def _too_long(limit_bytes: int) -> Finding:
    return Finding(
        "line-too-long",
        f"is longer than {limit_bytes:,} bytes".replace(",", " "),
        "give long runs of readings as lines of their own, or raise PLAITLOG_LINE_LIMIT_BYTES",
    )


def _not_utf8(raw: bytes, place: int) -> Finding:
    before = raw[:place].decode("utf-8")
    return Finding(
        "not-utf-8",
        f"byte {place + 1} (0x{raw[place]:02X}, after {before[-20:]!r}) is not UTF-8",
        "save the file as UTF-8",
    )


def _not_json(text: str, error: json.JSONDecodeError) -> Finding:
    if not text[error.pos :].strip() or error.msg.startswith("Unterminated"):
        return Finding("not-json", "ends before the JSON does", "the line was cut off: complete it")
    return Finding(
        "not-json",
        f"is not JSON at column {error.pos + 1} ({text[error.pos : error.pos + 20].rstrip()!r})",
        "check quotes, commas and brackets there",
    )
