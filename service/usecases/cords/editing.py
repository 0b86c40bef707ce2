"""A cord and its stock as texts in a form, and what was typed there as changes of their records."""

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from plaitlog.models import units
from plaitlog.models.errors import Finding, InputError, RecordError
from plaitlog.service.schemas.values import METRES_LIMIT
from plaitlog.service.usecases.cords.new_cord import needed, sized
from plaitlog.service.usecases.shown_units import ShownUnits

SIZES: Final = {"diameter": "diameter_mm", "pressed": "pressed_mm", "flat_width": "flat_width_mm"}
"""Sizes of a cord by the key that takes them as typed, with the key that holds the number."""
DENSITIES: Final = {
    "linear_density": ("linear_density_g_per_m", "g/m"),
    "fibre_density": ("fibre_density_g_per_cm3", "g/cm3"),
}
CORD_FIELDS: Final = (
    "name",
    "material",
    "construction",
    *SIZES,
    *DENSITIES,
    "supplier",
    "price_per_m",
    "notes",
)
NEEDED: Final = ("name", "material", "construction")
LOT_FIELDS: Final = ("colour", "lot", "metres", "price_per_m", "notes")
METRES: Final = units.Quantity(
    "length of cord", "mm", units.LENGTH.units, METRES_LIMIT * 1000, (1_000, 1_000_000), zero=True
)


def cord_texts(record: Mapping[str, Any], shown: ShownUnits) -> dict[str, str]:
    """The fields of a cord's record as texts: as they were typed, else in the units that are shown."""
    found = _texts(record, CORD_FIELDS, shown)
    for text, number in SIZES.items():
        if text not in record and number in record:
            found[text] = shown.number(
                f"{units.exact_text(record[number], shown.diameters, within_mm=0.0005)} {shown.diameters}"
            )
    for text, (number, unit) in DENSITIES.items():
        if text not in record and number in record:
            found[text] = shown.number(f"{record[number]:g} {unit}")
    return found


def lot_texts(record: Mapping[str, Any], shown: ShownUnits) -> dict[str, str]:
    """The fields of a lot's record as texts."""
    return _texts(record, LOT_FIELDS, shown)


def cord_changes(typed: Mapping[str, str], was: Mapping[str, str], shown: ShownUnits) -> dict[str, Any]:
    """What is to be changed in a cord's record: fields whose text is not what it ``was``; none erases.

    Raises
    ------
    RecordError
        With every field that cannot be read.
    """
    return _changes(typed, was, CORD_FIELDS, shown)


def lot_changes(typed: Mapping[str, str], was: Mapping[str, str], shown: ShownUnits) -> dict[str, Any]:
    """The same of a lot; metres without a unit are metres."""
    return _changes(typed, was, LOT_FIELDS, shown)


def lot_record(cord: str, typed: Mapping[str, str], shown: ShownUnits) -> dict[str, Any]:
    """The record of a new lot of a cord; RecordError with every field that cannot be read."""
    return {"kind": "stock", "cord": cord, **_changes(typed, {}, LOT_FIELDS, shown)}


def field_of(where: str) -> str:
    """The field of a form that a finding about a record is about."""
    key = where.rsplit(", ", 1)[-1]
    numbers = {**{n: t for t, n in SIZES.items()}, **{n: t for t, (n, _) in DENSITIES.items()}}
    return numbers.get(key, key)


def _texts(record: Mapping[str, Any], fields: tuple[str, ...], shown: ShownUnits) -> dict[str, str]:
    found = {}
    for key in fields:
        value = record.get(key)
        found[key] = shown.number(f"{value:g}") if isinstance(value, float | int) else str(value or "")
    return found


def _changes(
    typed: Mapping[str, str], was: Mapping[str, str], fields: tuple[str, ...], shown: ShownUnits
) -> dict[str, Any]:
    changes: dict[str, Any] = {}
    findings = []
    for key in fields:
        text = typed.get(key, "").strip()
        if text == was.get(key, "").strip():
            continue
        try:
            if not text and key in NEEDED:
                raise InputError(needed(key))
            changes[key] = _value(key, text, shown) if text else None
        except InputError as error:
            findings.append(replace(error.finding, where=key))
    if findings:
        raise RecordError(*findings)
    return changes


def _value(key: str, text: str, shown: ShownUnits) -> Any:
    if key in SIZES:
        read = units.parse_thickness if key == "pressed" else units.parse_diameter
        return _with_unit(sized(text, shown), read)
    if key in DENSITIES:
        density = units.parse_linear_density if key == "linear_density" else units.parse_fibre_density
        return _with_unit(_unit_added(text, density, DENSITIES[key][1]), density)
    if key == "metres":
        return round(units.parse_length(text, unit="m", quantity=METRES) / 1000, 6)
    if key == "price_per_m":
        return _price(text)
    return text


def _with_unit(text: str, read: Callable[[str], float]) -> str:
    read(text)
    return text


def _unit_added(text: str, read: Callable[[str], float], unit: str) -> str:
    try:
        read(text)
    except InputError as error:
        return f"{text} {unit}" if error.finding.code == "unit-missing" else text
    return text


def _price(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(Finding("not-a-price", f"{text!r} is not a price", "type a number, such as 0.21"))
    return value
