"""Sizes of what a plan is asked for, as numbers or as text, in mm."""

import math
from collections.abc import Mapping
from typing import Final, Literal

from pydantic import ValidationError

from plaitlog.models.errors import UnitError
from plaitlog.models.units import LengthUnit, parse_diameter, parse_length, show_length
from plaitlog.service.schemas.refusals import findings_of
from plaitlog.service.schemas.values import Shape
from plaitlog.service.usecases.from_records import AGREE, Refusals, key_path

Declared = Literal["mm", "cm", "in"]
POINT: Final = "point"


def typed_sizes(shape: Shape, refusals: Refusals, where: str, declared: Declared | None) -> dict[str, float]:
    """Every size that a shape gives, in mm, by its key; number and text must say the same.

    declared : the unit of lengths that are typed without one; a diameter without one is meant in mm alone.
    """
    found: dict[str, float] = {}
    as_text: dict[str, str] = {}
    for key, (text_key, read) in shape.as_typed.items():
        number = getattr(shape, key)
        text = getattr(shape, "from_" if text_key == "from" else text_key)
        if text is None or (text_key == "ends" and text.strip().casefold() == POINT):
            if number is not None:
                found[key] = number
            continue
        try:
            meant = read(text) if read is not parse_length else length_mm(text, declared)
        except UnitError as error:
            if declared == "mm" and error.finding.code == "unit-missing":
                meant = read(f"{text} mm")
            else:
                refusals.take(key_path(where, text_key), error)
                continue
        if number is not None and not math.isclose(number, meant, rel_tol=AGREE, abs_tol=0.01):
            refusals.add(
                key_path(where, text_key),
                "disagree",
                f"{text!r} is {meant:g}, but {key} says {number:g}",
                "correct one of them, or leave one out",
            )
            continue
        found[key] = meant if number is None else number
        as_text[key] = text_key
    _within_limits(shape, {key: found[key] for key in as_text}, as_text, refusals, where)
    return found


def length_mm(text: str, declared: Declared | None) -> float:
    """A length as typed; a bare 0 needs no unit."""
    unit: LengthUnit | None = declared
    if unit is None and text.strip() == "0":
        return 0.0
    return parse_length(text, unit=unit)


def said(mm: float, unit: str) -> str:
    """A length on the tape it was typed by, mm or in."""
    return show_length(mm, "in fraction") if unit == "in" else f"{mm:g} mm"


def diameter_mm(text: str, declared: Declared | None) -> float:
    """A diameter as typed; one without a unit is meant in mm where that is declared, else refused."""
    return parse_diameter(text, unit="mm" if declared == "mm" else None)


def _within_limits(
    shape: Shape, values: Mapping[str, float], as_text: Mapping[str, str], refusals: Refusals, where: str
) -> None:
    """What was typed as text is held to the limits of the number."""
    if not values:
        return
    try:
        type(shape).model_validate(values)
    except ValidationError as error:
        for finding in findings_of(error, type(shape)):
            if finding.where in as_text and finding.code != "missing":
                place = key_path(where, as_text[finding.where])
                refusals.add(place, finding.code, finding.text, finding.remedy)
