"""What was measured, from wire shapes to nouns: readings, turn lengths, weighings, the balance point."""

import math
from typing import Final

from plaitlog.models import units
from plaitlog.models.errors import UnitError
from plaitlog.models.whip import Balance, Reading, TurnLength, Weight
from plaitlog.service.schemas.readings import BalanceShape, ReadingShape, TurnLengthShape, WeightShape
from plaitlog.service.schemas.values import Shape
from plaitlog.service.usecases.from_records import (
    AGREE,
    Refusals,
    Stated,
    key_path,
    sizes,
    stated_keys,
    words,
)

NAMED_PLACES: Final = {"thick": "thick", "mid": "mid", "middle": "mid", "p": "point", "point": "point"}


def reading_from(shape: ReadingShape, refusals: Refusals, where: str = "") -> Reading | None:
    """The reading, or None where it is refused."""
    before = len(refusals.findings)
    stated = sizes(shape, refusals, where)
    values, typed = dict(stated.fields), dict(stated.typed)
    place = _named(shape.place, refusals, key_path(where, "place"))
    if shape.at is not None:
        named = NAMED_PLACES.get(shape.at.strip().lower())
        if named is not None:
            place = named
        else:
            typed["at"] = shape.at
            values["at_mm"] = _length_beside(shape.at, shape.at_mm, refusals, where)
    elif shape.at_mm is not None:
        values["at_mm"] = shape.at_mm
    if values.get("at_mm") is not None and place is not None:
        refusals.add(
            key_path(where, "place"), "two-places", "the reading has a station and a place", "keep one"
        )
    if values.get("at_mm") is None and place is None and len(refusals.findings) == before:
        refusals.add(key_path(where, "at_mm"), "missing", "is missing", "say where the reading was taken")
    diameter, girth = values.get("diameter_mm"), values.get("girth_mm")
    if len(refusals.findings) == before:
        if (diameter is None) == (girth is None):
            text = "a reading has no size" if diameter is None else "a reading has two sizes"
            refusals.add(
                key_path(where, "diameter_mm"), "one-size", text, "give either diameter_mm or girth_mm"
            )
        elif girth is None and "tape_mm" in values:
            refusals.add(
                key_path(where, "tape_mm"), "tape-without-girth", "a tape measures a girth", "give girth_mm"
            )
        elif girth is not None and girth / math.pi <= values.get("tape_mm", 0.0):
            refusals.add(
                key_path(where, "tape_mm"),
                "tape-too-thick",
                "the tape is thicker than the whip",
                "check both",
            )
    if len(refusals.findings) > before:
        return None
    plain = stated_keys(shape, ("after_layer", "condition", "on", "notes"))
    return Reading(
        **{"at_mm": None, **values}, place=place, doubtful=bool(shape.doubtful), **plain, typed=typed
    )


def _named(text: str | None, refusals: Refusals, where: str) -> str | None:
    if text is None:
        return None
    named = NAMED_PLACES.get(text.strip().lower())
    if named is None:
        refusals.add(where, "place-unknown", f"{text!r} is no named place", "write thick, mid or p")
    return named


def _length_beside(text: str, number: float | None, refusals: Refusals, where: str) -> float | None:
    try:
        meant = units.parse_length(text)
    except UnitError as error:
        refusals.take(key_path(where, "at"), error)
        return None
    if number is None:
        return meant
    if not math.isclose(number, meant, rel_tol=AGREE, abs_tol=0.5):
        refusals.add(
            key_path(where, "at"),
            "disagree",
            f"{text!r} is {meant:g} mm, but at_mm says {number:g}",
            "correct one of them, or leave one out",
        )
    return number


def turn_lengths_from(shapes: list[TurnLengthShape], refusals: Refusals) -> tuple[TurnLength, ...]:
    found = []
    for number, shape in enumerate(shapes, start=1):
        where = f"turn_lengths {number}"
        stated = sizes(shape, refusals, where)
        if _complete(stated, ("at_mm", "turn_mm"), shape, refusals, where):
            found.append(TurnLength(**stated.fields, after_layer=shape.after_layer, typed=stated.typed))
    return tuple(found)


def weights_from(shapes: list[WeightShape], refusals: Refusals) -> tuple[Weight, ...]:
    found = []
    for number, shape in enumerate(shapes, start=1):
        where = f"weights {number}"
        stated = sizes(shape, refusals, where)
        if _complete(stated, ("weight_g",), shape, refusals, where):
            parts = None if shape.with_parts is None else words(shape.with_parts)
            found.append(Weight(stated.fields["weight_g"], parts, shape.after_layer, stated.typed))
    return tuple(found)


def balance_from(shape: BalanceShape, refusals: Refusals) -> Balance | None:
    stated = sizes(shape, refusals, "balance")
    if not _complete(stated, ("at_mm",), shape, refusals, "balance"):
        return None
    return Balance(stated.fields["at_mm"], shape.counted_from, shape.how, stated.typed)


def _complete(stated: Stated, needed: tuple[str, ...], shape: Shape, refusals: Refusals, where: str) -> bool:
    """Whether every needed size is there; one whose text was refused is not called missing as well."""
    complete = True
    for key in needed:
        if key not in stated.fields:
            complete = False
            if getattr(shape, key, None) is None and getattr(shape, shape.as_typed[key][0], None) is None:
                refusals.add(
                    key_path(where, key), "missing", "is missing", "give it, or leave this entry out"
                )
    return complete
