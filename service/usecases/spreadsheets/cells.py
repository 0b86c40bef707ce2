"""What a record says, as the cells of an export; reading them gives the same record again."""

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from plaitlog.service.usecases.spreadsheets.columns import Column, Table
from plaitlog.service.usecases.spreadsheets.table import Cell
from plaitlog.service.usecases.spreadsheets.texts import write_text

Record = Mapping[str, Any]
_NOT_ALONE: Final = re.compile(r" \+ |\([0-9.,]+\)$|^[\[{]")
_NOT_IN_LIST: Final = re.compile(r"[,;+]|\band\b|^[\[{]|^\s|\s$")
_SHARE: Final = re.compile(r"[0-9]+(?:\.[0-9]+)?")


def header(table: Table) -> list[Cell]:
    return [column.title for column in table.columns]


def row(table: Table, record: Record) -> list[Cell]:
    """The cells of one record, in the order of the table's columns."""
    return [_cell(column, _at(record, column.key)) for column in table.columns]


def _at(record: Record, key: str) -> Any:
    """What stands under a key with dots; a word in the place of an object stands under its first key."""
    head, _, last = key.partition(".")
    found = record.get(head)
    if not last:
        return found
    if isinstance(found, str):
        return found if last.endswith("_mm") and head == "foundation" and last == "diameter_mm" else None
    return None if found is None else found.get(last)


def _cell(column: Column, value: Any) -> Cell:
    if value is None:
        return None
    match column.way:
        case "yes":
            return "yes" if value else "no"
        case "words":
            return _words(value)
        case "cords":
            return _cords(value)
        case "signs":
            return " + ".join(value)
        case "steps" | "document":
            return _json(value)
        case "pattern":
            return value if isinstance(value, str) and value.strip() == value else _json(value)
    return write_text(value) if isinstance(value, str) else value


def _words(value: str | Sequence[str]) -> str:
    if isinstance(value, str):
        return value
    plain = value and not any(_NOT_IN_LIST.search(each) or write_text(each) != each for each in value)
    text = ", ".join(value)
    return text if plain and text.lower() != "none" else _json(value)


def _cords(value: str | Sequence[Mapping[str, Any]]) -> str:
    if isinstance(value, str):
        return json.dumps(value) if _NOT_ALONE.search(value) else write_text(value)
    parts = [f"{each['cord']} ({each['share']})" for each in value]
    plain = all(
        "lot" not in each
        and not _NOT_ALONE.search(each["cord"])
        and write_text(each["cord"]) == each["cord"]
        and _SHARE.fullmatch(str(each["share"]))
        for each in value
    )
    return " + ".join(parts) if plain else _json(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=True, separators=(",", ":"))
