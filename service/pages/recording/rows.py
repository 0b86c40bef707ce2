"""Layers and readings that are filled in row by row: from the fields of the form to a line, and back.

A field ``how.layer.1`` says in which way layer 1 is filled in. The line is what is recorded, whichever it is.
"""

import re
from collections.abc import Mapping
from typing import Any, Final, cast

from plaitlog.models.whip import CONDITIONS, ROLES, Layer, Role
from plaitlog.service.usecases.recording.layer_rows import (
    CLOSINGS,
    FATES,
    GivenSize,
    LayerRow,
    LayerRows,
    line_of_layer,
    line_of_size,
    rows_of_layer,
)
from plaitlog.service.usecases.recording.layers import role_of
from plaitlog.service.usecases.recording.reading_rows import (
    ReadingRow,
    ReadingRows,
    line_of_readings,
    rows_of_readings,
)
from plaitlog.service.usecases.shown_units import ShownUnits

LINE, ROWS, SIZE = "line", "rows", "size"
ROOM: Final = 2
"""Empty rows that follow those filled in."""
ROWS_AT_MOST: Final = 60
_HOW: Final = re.compile(r"how\.((?:layer|readings)\.\d{1,2})")

PLAITED_ROLES: Final = [[role, role] for role in ROLES]
SIZED_ROLES: Final = [[role, role] for role in ("core", "bolster", "binding")]
FATE_WORDS: Final = [["", "not noted"]] + [
    [fate, words]
    for fate, words in zip(
        FATES, ("cut", "tucked", "tucked, gutted", "run on inside", "run on, gutted"), strict=True
    )
]
CLOSING_WORDS: Final = [
    [closing, words]
    for closing, words in zip(
        CLOSINGS, ("runs to the point", "ends, not noted where", "not noted"), strict=True
    )
]
CONDITION_WORDS: Final = [["", "not noted"]] + [[one, one] for one in CONDITIONS]

Texts = dict[str, str]


def with_lines(texts: Mapping[str, str], proposed: Mapping[str, Role], typed_in: ShownUnits) -> Texts:
    """The fields with the line of everything that is filled in by rows, and rows for what was a line before.

    proposed : the role of each layer that a line without one would have, by key.
    """
    found = dict(texts)
    for field, how in texts.items():
        matched = _HOW.fullmatch(field)
        if matched is None:
            continue
        key = matched[1]
        before = texts.get(f"was.{key}", LINE)
        if how == LINE:
            if before != LINE:
                found[key] = _line(texts, key, before, typed_in) or texts.get(key, "")
            continue
        line = _line(texts, key, how, typed_in)
        if line:
            found[key] = line
        elif texts.get(key) and before != how:
            found |= _rows(texts[key], key, how, proposed.get(key, "core"), typed_in, _roles(texts))
    return found


def _roles(texts: Mapping[str, str]) -> tuple[Layer, ...]:
    lines = [texts[f"layer.{k}"] for k in range(1, 13) if texts.get(f"layer.{k}")]
    return tuple(Layer(role=role_of(line, "core")[0]) for line in lines)


def _line(texts: Mapping[str, str], key: str, how: str, typed_in: ShownUnits) -> str:
    """The line that the rows say; empty where nothing is filled in."""
    if how == SIZE:
        given = GivenSize(
            *(_text(texts, f"size.{key}.{part}") for part in ("role", "size", "what", "begins", "ends"))
        )
        return line_of_size(given, typed_in.diameters) if given.size else ""
    if key.startswith("layer."):
        layer = layer_rows(texts, key)
        return "" if layer.is_empty else line_of_layer(layer)
    readings = reading_rows(texts, key)
    return "" if readings.is_empty else line_of_readings(readings)


def _text(texts: Mapping[str, str], field: str) -> str:
    return texts.get(field, "").strip()


def layer_rows(texts: Mapping[str, str], key: str) -> LayerRows:
    """The rows of a layer as they are filled in, empty ones left out."""
    name = f"rows.{key}"
    rows = (
        LayerRow(*(_text(texts, f"{name}.{k}.{part}") for part in ("place", "count", "fate", "tucked")))
        for k in range(1, ROWS_AT_MOST + 1)
    )
    return LayerRows(
        _text(texts, f"{name}.role") or "overlay",
        _text(texts, f"{name}.start"),
        tuple(row for row in rows if not row.is_empty),
        _text(texts, f"{name}.closing") or "p",
    )


def reading_rows(texts: Mapping[str, str], key: str) -> ReadingRows:
    """The rows of readings as they are filled in, empty ones left out."""
    name = f"rows.{key}"
    rows = (
        ReadingRow(*(_text(texts, f"{name}.{k}.{part}") for part in ("at", "first", "second")))
        for k in range(1, ROWS_AT_MOST + 1)
    )
    filled = tuple(row for row in rows if not row.is_empty)
    return ReadingRows(filled, _text(texts, f"{name}.over"), _text(texts, f"{name}.condition"))


def _rows(
    line: str, key: str, how: str, proposed: Role, typed_in: ShownUnits, layers: tuple[Layer, ...]
) -> Texts:
    """What a line says as fields of rows; nothing where rows cannot say it."""
    found: Texts = {}
    name = f"rows.{key}"
    if key.startswith("readings."):
        readings = rows_of_readings(line, layers, typed_in)
        if readings is not None:
            found |= {f"{name}.over": readings.over, f"{name}.condition": readings.condition}
            for k, row in enumerate(readings.rows, start=1):
                found |= {
                    f"{name}.{k}.at": row.at,
                    f"{name}.{k}.first": row.first,
                    f"{name}.{k}.second": row.second,
                }
        return found
    layer = rows_of_layer(line, proposed, typed_in.lengths, None) if how == ROWS else None
    if layer is not None:
        found |= {f"{name}.role": layer.role, f"{name}.start": layer.start, f"{name}.closing": layer.closing}
        for k, step in enumerate(layer.rows, start=1):
            found[f"{name}.{k}.place"], found[f"{name}.{k}.count"] = step.place, step.count
            found[f"{name}.{k}.fate"], found[f"{name}.{k}.tucked"] = step.fate, step.tucked
    return found


def layer_data(texts: Mapping[str, str], key: str, proposed: Role) -> dict[str, Any]:
    """The rows of a layer as data of the page."""
    filled = layer_rows(texts, key)
    role = _text(texts, f"rows.{key}.role") or proposed
    rows = [*filled.rows, *[LayerRow("", "")] * ROOM]
    return {
        "role": role,
        "roles": PLAITED_ROLES,
        "start": filled.start,
        "closing": filled.closing,
        "closings": CLOSING_WORDS,
        "fates": FATE_WORDS,
        "rows": [
            {"place": row.place, "count": row.count, "fate": row.fate, "tucked": row.tucked} for row in rows
        ],
    }


def size_data(texts: Mapping[str, str], key: str, proposed: Role) -> dict[str, Any]:
    """A layer without strands as data of the page."""
    parts = {part: texts.get(f"size.{key}.{part}", "") for part in ("role", "size", "what", "begins", "ends")}
    return {
        **parts,
        "role": parts["role"] or (proposed if proposed in {"core", "bolster"} else "binding"),
        "roles": SIZED_ROLES,
    }


def readings_data(texts: Mapping[str, str], key: str) -> dict[str, Any]:
    """Rows of readings as data of the page."""
    filled = reading_rows(texts, key)
    layers = [
        [f"layer {k}", f"over layer {k}, {layer.role}"] for k, layer in enumerate(_roles(texts), start=1)
    ]
    rows = [*filled.rows, *[ReadingRow("", "")] * ROOM]
    return {
        "over": filled.over,
        "overs": [["", "the finished whip"], *layers],
        "condition": filled.condition,
        "conditions": CONDITION_WORDS,
        "rows": [{"at": row.at, "first": row.first, "second": row.second} for row in rows],
    }


def proposed_role(ask: str) -> Role:
    """The role that the question of a layer names: ``Layer 1, innermost [core]``."""
    return cast("Role", ask.partition("[")[2].partition("]")[0])
