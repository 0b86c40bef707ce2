"""Sizes in cells: numbers in the unit of their column, texts with a unit of their own."""

import re
from typing import Any, Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.units import Quantity
from plaitlog.models.units_scan import plain_marks, scan_number
from plaitlog.models.whip import NONE
from plaitlog.service.usecases.spreadsheets.mapped import Mapped
from plaitlog.service.usecases.spreadsheets.one_cell import UNKNOWN, NumberForm, Pairs, as_text, number_text

BARE: Final = re.compile(r"-?[0-9]*\.?[0-9]+|-?[0-9]+\.")


def read_size(cell: Any, mapped: Mapped, form: NumberForm) -> Pairs:
    column, unit = mapped.column, mapped.unit
    quantity = column.quantity
    assert quantity is not None
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        if unit == quantity.stored:
            return [(column.key, cell)]
        return [(column.text_key, f"{number_text(float(cell))} {_needed(unit, as_text(cell), quantity)}")]
    if not isinstance(cell, str):
        raise InputError(
            Finding("not-a-size", f"{as_text(cell)!r} is not a {quantity.name}", "write a number")
        )
    text = cell.strip()
    if text.lower() in UNKNOWN:
        return []
    if text.lower() in ("none", "no"):
        nothing = column.key.split(".")[0] if column.key.startswith("foundation") else column.key
        return [(nothing, NONE)]
    plain = form.number(text)
    if BARE.fullmatch(plain):
        if _needed(unit, text, quantity) == quantity.stored:
            return [(column.key, float(plain))]
        return [(column.text_key, f"{plain} {unit}")]
    marks = plain_marks(plain).strip()
    number = scan_number(marks)
    if number is not None and number.end == len(marks):
        return [(column.text_key, f"{plain} {_needed(unit, text, quantity)}")]
    return [(column.text_key, plain)]


def _needed(unit: str | None, text: str, quantity: Quantity) -> str:
    if unit is not None:
        return unit
    number = scan_number(plain_marks(text))
    value = 0.0 if number is None else float(number.value)
    low, high = quantity.usual
    likely = [name for name, factor in quantity.units.items() if low <= value * float(factor) <= high]
    names = (likely or list(quantity.units))[:2]
    key = {"mass": "weight"}.get(quantity.name, quantity.name)
    raise InputError(
        Finding(
            "unit-missing",
            f"no unit in {text!r}, nor in the header",
            f"write {' or '.join(repr(f'{text} {name}') for name in names)},"
            f' or say --units "{key}={names[0]}" for the whole table',
        )
    )


def usual_units(low: float, high: float, quantity: Quantity) -> list[str]:
    """The units in which all numbers from ``low`` to ``high`` are usual ones on a whip."""
    least, most = quantity.usual
    first = high if quantity.zero else low  # a station may lie near 0: the furthest tells
    return [
        name
        for name, factor in quantity.units.items()
        if least <= first * float(factor) and high * float(factor) <= most
    ]


def bare_number(cell: Any, form: NumberForm) -> float | None:
    """The value of a cell that holds a number and no unit; None for any other."""
    if isinstance(cell, bool) or cell is None:
        return None
    if isinstance(cell, int | float):
        return float(cell)
    try:
        plain = form.number(str(cell))
    except InputError:
        return None
    marks = plain_marks(plain).strip().rstrip("?")
    number = scan_number(marks)
    return float(number.value) if number is not None and number.end == len(marks) else None
