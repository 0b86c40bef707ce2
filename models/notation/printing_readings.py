"""Readings written out: in the line notation, and in words for the maker to check."""

from collections.abc import Sequence
from itertools import groupby

from plaitlog.models.notation.text import print_number, print_size, say_number
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Layer, Reading


def print_readings(
    readings: Sequence[Reading],
    unit: LengthUnit = "in",
    size_unit: LengthUnit = "mm",
    *,
    layers: Sequence[Layer] = (),
) -> str:
    """The readings in notation, a line for each run with the same condition, layer and tape.

    Reads back to the same readings, but for their dates and notes, which the notation has no room for.
    """
    lines = []
    for _, group in groupby(readings, _head_key):
        run = list(group)
        head = ", ".join(
            [f"{unit} {'girth ' * _by_girth(run[0])}{size_unit}", *_head_words(run[0], size_unit, layers)]
        )
        pieces = []
        for place, repeats in groupby(run, lambda reading: _place(reading, unit)):
            sizes = " ".join(_size(reading, size_unit) for reading in repeats)
            pieces.append(f"{place} {sizes}" if place.isalpha() else f"{place}: {sizes}")
        lines.append(f"{head}: {'; '.join(pieces)}")
    return "\n".join(lines)


def _head_key(reading: Reading) -> tuple[object, ...]:
    return reading.condition, reading.after_layer, _by_girth(reading), reading.tape_mm


def _by_girth(reading: Reading) -> bool:
    return reading.diameter_mm is None


def _head_words(reading: Reading, size_unit: LengthUnit, layers: Sequence[Layer]) -> list[str]:
    words = []
    if reading.after_layer is not None:
        words.append(_layer_name(reading.after_layer, layers))
    if reading.condition is not None:
        words.append(reading.condition)
    if _by_girth(reading) and reading.tape_mm is not None:
        words.append(f"tape {print_size(reading.tape_mm, size_unit)}")
    return words


def _layer_name(after_layer: int, layers: Sequence[Layer]) -> str:
    """``belly``, ``belly 2`` where there are two, ``layer 2`` where the layers are not known."""
    if after_layer > len(layers):
        return f"layer {after_layer}"
    role = layers[after_layer - 1].role
    slots = [slot for slot, layer in enumerate(layers, start=1) if layer.role == role]
    return role if len(slots) == 1 else f"{role} {slots.index(after_layer) + 1}"


def _place(reading: Reading, unit: LengthUnit) -> str:
    if reading.place is not None:
        return "p" if reading.place == "point" else reading.place
    if reading.at_mm is None:
        raise ValueError("a reading with neither a station nor a named place cannot be printed")
    return print_number(reading.at_mm, unit)


def _size(reading: Reading, unit: LengthUnit) -> str:
    size = reading.girth_mm if reading.diameter_mm is None else reading.diameter_mm
    assert size is not None
    return print_size(size, unit) + ("?" if reading.doubtful else "")


def echo_readings(
    readings: Sequence[Reading],
    unit: LengthUnit = "in",
    size_unit: LengthUnit = "mm",
    *,
    layers: Sequence[Layer] = (),
) -> str:
    """The readings in words: "3 readings, fresh: at 0 in 15.4 mm; at 12 in 13.9 and 13.5 mm"."""
    lines = []
    for _, group in groupby(readings, _head_key):
        run = list(group)
        first = run[0]
        head = [f"{len(run)} reading{'s' * (len(run) > 1)}{' by tape' * _by_girth(first)}"]
        if first.after_layer is not None:
            name = _layer_name(first.after_layer, layers)
            head.append(f"over {name}" if name[-1].isdigit() else f"over the {name}")
        if first.condition is not None:
            head.append(first.condition)
        if _by_girth(first) and first.tape_mm is not None:
            head.append(f"tape {print_size(first.tape_mm, size_unit)} {size_unit}")
        pieces = []
        for place, repeats in groupby(run, lambda reading: _say_place(reading, unit)):
            sizes = " and ".join(_size(reading, size_unit).replace("?", " (doubtful)") for reading in repeats)
            pieces.append(f"{place} {sizes} {size_unit}")
        lines.append(f"{', '.join(head)}: {'; '.join(pieces)}")
    return "\n".join(lines)


def _say_place(reading: Reading, unit: LengthUnit) -> str:
    names = {
        "thick": "at the thick end",
        "mid": "in the middle",
        "point": "at the point",
        "p": "at the point",
    }
    if reading.place in names:
        return names[reading.place]
    return "somewhere" if reading.at_mm is None else f"at {say_number(reading.at_mm, unit)} {unit}"
