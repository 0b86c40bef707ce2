"""Strand schedules in one cell: line notation where it says all there is, exact steps where it does not."""

import json
from dataclasses import fields
from typing import Any

from pydantic import ValidationError

from plaitlog.models.notation import print_schedule
from plaitlog.models.whip import Layer
from plaitlog.service.schemas.refusals import record_from
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.from_layers import layers_from
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.to_layer_records import layer_record

Record = dict[str, Any]


def settled(record: Record, point_mm: float | None) -> Record:
    """The record of a whip with every line that this program would print written as steps instead.

    Such a line holds nothing beyond its steps, so it is not kept as something that a maker typed.
    """
    layers = record.get("layers") or []
    if not any(_could_be_printed(layer) for layer in layers):
        return record
    read = _read(record, point_mm)
    if read is None:
        return record
    found = [
        _as_steps(layer, noun) if _could_be_printed(layer) else layer
        for layer, noun in zip(layers, read, strict=True)
    ]
    return {**record, "layers": found}


def _could_be_printed(layer: Record) -> bool:
    """Whether the line is of the form that is printed, and not vague: those are kept as they stand."""
    text = layer.get("strands")
    return isinstance(text, str) and text.startswith("mm: ") and not text.endswith("?") and "~" not in text


def _as_steps(layer: Record, noun: Layer) -> Record:
    text = layer["strands"]
    if printed(noun) != text:
        return layer
    exact = layer_record(Layer(**{**_fields(noun), "typed": {}}))
    if "strands_text" in exact:  # steps alone would lose that a place or the rest is vague
        return layer
    kept = {key: value for key, value in layer.items() if key not in ("strands", "pattern", "fate")}
    return {**kept, **{key: exact[key] for key in ("strands", "pattern", "fate") if key in exact}}


def printed(layer: Layer) -> str | None:
    """The layer's schedule as one line in mm."""
    if layer.schedule is None:
        return None
    return print_schedule(layer.schedule, "mm", cords=layer.cords, fate=layer.fate)


def _fields(layer: Layer) -> dict[str, Any]:
    return {each.name: getattr(layer, each.name) for each in fields(layer)}


def _read(record: Record, point_mm: float | None) -> tuple[Layer, ...] | None:
    """The layers that a record lists, None where any of them is refused."""
    try:
        shape = record_from(json.loads(json.dumps(record)))
    except (ValidationError, TypeError):
        return None
    if not isinstance(shape, WhipRecord):
        return None
    refusals = Refusals()
    read = layers_from(shape, point_mm, refusals)
    return None if refusals.findings else read.layers


def lines_of(record: Record, layers: tuple[Layer, ...], point_mm: float | None) -> list[Record]:
    """The layers of a whip's record with a line in place of steps wherever the line gives the same back.

    ``record`` is the whip's own, ``layers`` the nouns it was made of. A layer whose line would not do has
    its exact ``steps`` beside the line that was typed, if one was.
    """
    given = record.get("layers") or []
    lettered = _lettered(record, given)
    line_for = [_line(layer, noun, lettered) for layer, noun in zip(given, layers, strict=True)]
    tried = {**record, "layers": line_for}
    read = _read(tried, point_mm)
    back = settled(tried, point_mm)
    found = []
    for i, (layer, line) in enumerate(zip(given, line_for, strict=True)):
        if read is not None and _same(back["layers"][i], layer, read[i]):
            found.append(line)
        else:
            found.append(_exact(layer))
    if read is None and any("steps" not in line for line in found):
        # One layer that cannot be read spoils the try for all: each is then tried with the others exact.
        found = _one_by_one(record, given, line_for, point_mm)
    return found


def _one_by_one(
    record: Record, given: list[Record], line_for: list[Record], point_mm: float | None
) -> list[Record]:
    found = []
    for i, line in enumerate(line_for):
        tried = {**record, "layers": [line if j == i else each for j, each in enumerate(given)]}
        read = _read(tried, point_mm)
        good = read is not None and _same(settled(tried, point_mm)["layers"][i], given[i], read[i])
        found.append(line if good else _exact(given[i]))
    return found


def _same(back: Record, layer: Record, noun: Layer) -> bool:
    """Whether a layer read from a table is the one that was to be written."""
    if back.get("strands") == layer.get("strands") and "strands_text" not in layer:
        again = {**back}
    else:
        again = layer_record(noun)
    keys = ("cord", "cords", "strands", "strands_text", "pattern", "fate")
    return all(again.get(key) == layer.get(key) for key in keys)


def _line(layer: Record, noun: Layer, letters: dict[str, str]) -> Record:
    kept = {key: value for key, value in layer.items() if key != "strands_text"}
    if "strands" not in layer:
        return kept
    text = layer.get("strands_text")
    if text is None:
        by_name = {cord: letter for letter, cord in letters.items()}
        cords = tuple(
            type(cord)(cord.cord, cord.share, cord.letter or by_name.get(cord.cord)) for cord in noun.cords
        )
        text = print_schedule(noun.schedule, "mm", cords=cords, fate=noun.fate) if noun.schedule else None
    kept.pop("pattern", None)
    return {**kept, "strands": text}


def _lettered(record: Record, given: list[Record]) -> dict[str, str]:
    """Cords by letter: as the record names them, else by first mention."""
    letters: dict[str, str] = dict(record.get("letters") or {})
    free = (letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in letters)
    for layer in given:
        names = [layer["cord"]] if "cord" in layer else [each["cord"] for each in layer.get("cords", [])]
        for name in names:
            if name not in letters.values() and (letter := next(free, None)) is not None:
                letters[letter] = name
    return letters


def _exact(layer: Record) -> Record:
    """A layer with its steps as they are, for the column that takes them."""
    kept = {key: value for key, value in layer.items() if key not in ("strands", "strands_text")}
    if "strands" in layer:
        kept["steps"] = layer["strands"]
        if "strands_text" in layer:
            kept["strands"] = layer["strands_text"]
    return kept
