"""What a plan is asked for, read from a file in JSON or TOML."""

import json
import tomllib
from typing import Any

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.usecases.json_lines import parse_line

LIMIT_BYTES = 1_000_000


def spec_data(raw: bytes, name: str) -> dict[str, Any]:
    """The object that a file holds; TOML where its name ends so, or where it does not begin with a brace.

    Raises
    ------
    InputError
        With line and column, where it cannot be read.
    """
    if len(raw) > LIMIT_BYTES:
        raise InputError(Finding("too-long", "is longer than any plan", "name the right file", name))
    start = raw.removeprefix(b"\xef\xbb\xbf").lstrip()[:1]
    if name.lower().endswith(".toml") or (not name.lower().endswith(".json") and start != b"{"):
        return _toml(raw, name)
    line = parse_line(raw.removeprefix(b"\xef\xbb\xbf"))
    if line.refusal is not None:
        raise InputError(_in_lines(raw, line.refusal).at(name))
    if not isinstance(line.data, dict):
        raise InputError(
            Finding("not-an-object", "is no plan", 'write an object {"thong_length": ...}', name)
        )
    return line.data


def _in_lines(raw: bytes, refusal: Finding) -> Finding:
    """The same with line and column: a file of one object has many lines."""
    if refusal.code != "not-json":
        return refusal
    try:
        json.loads(raw.decode("utf-8-sig"))
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        return Finding("not-json", "is not JSON there", "check quotes, commas and brackets", where)
    except (RecursionError, ValueError):
        pass
    return refusal


def _toml(raw: bytes, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(Finding("not-utf-8", "is not UTF-8", "save it as UTF-8", name)) from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(Finding("not-toml", f"{error}"[:200], "correct it there", name)) from None
