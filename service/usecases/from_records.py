"""From wire shapes to nouns: units read, text as typed kept, every refusal with its key.

A record states some fields of a noun; which ones it states decides what an update replaces. A key that is
null says no more than one that is absent.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeVar

from plaitlog.models import units
from plaitlog.models.errors import Finding, InputError, UnitError
from plaitlog.models.whip import (
    NONE,
    Balance,
    Cord,
    CordStock,
    CordUse,
    Foundation,
    KnownNone,
    RatingSession,
    Reading,
    TurnLength,
    Weight,
    Whip,
)
from plaitlog.service.schemas.cords import CordRecord, StockRecord
from plaitlog.service.schemas.ratings import RatingRecord
from plaitlog.service.schemas.readings import BalanceShape, ReadingShape, TurnLengthShape, WeightShape
from plaitlog.service.schemas.values import Shape
from plaitlog.service.schemas.whips import FoundationShape, WhipRecord

AGREE: Final = 0.005
"""Number and text of the same size may differ by this share: makers round, 6 ft is written as 1830 mm."""

NAMED_PLACES: Final = {"thick": "thick", "mid": "mid", "middle": "mid", "p": "point", "point": "point"}

NO_HANDLE: Final = ("handle_length_mm", "handle_diameter_mm")
"""Where "none" says that there is no handle, which is kept as a handle of length 0."""

Noun = TypeVar("Noun", Cord, Whip)


class Refusals:
    """What is wrong with one record, gathered so that all of it is said at once."""

    def __init__(self) -> None:
        self.findings: list[Finding] = []

    def add(self, where: str, code: str, text: str, remedy: str) -> None:
        self.findings.append(Finding(code, text, remedy, where))

    def take(self, where: str, error: InputError) -> None:
        self.findings.append(error.finding.at(where))


@dataclass(frozen=True, slots=True)
class Stated:
    """The fields of a noun that a record states, and the texts they were typed as.

    ``settled`` are the text keys whose value is stated anew, so that an older text no longer holds.
    """

    fields: Mapping[str, Any]
    typed: Mapping[str, str] = field(default_factory=dict)
    settled: frozenset[str] = frozenset()

    def applied_to(self, noun: Noun) -> Noun:
        kept = {key: text for key, text in noun.typed.items() if key not in self.settled}
        return replace(noun, **self.fields, typed={**kept, **self.typed})


@dataclass(frozen=True, slots=True)
class WhipStated:
    """What a record states of a whip; layers are read apart, since they need the whip's length."""

    own: Stated
    weight: Weight | None = None
    weights: tuple[Weight, ...] | None = None
    rating: RatingSession | None = None
    weight_with: tuple[str, ...] | KnownNone | None = None


def sizes(shape: Shape, refusals: Refusals, where: str = "") -> Stated:
    """The numbers in a unit that a shape gives, as numbers or as text; both must say the same."""
    values: dict[str, float] = {}
    typed: dict[str, str] = {}
    settled: list[str] = []
    for key, (text_key, read) in shape.as_typed.items():
        number = getattr(shape, key)
        text = getattr(shape, text_key, None) if text_key != "from" else getattr(shape, "from_", None)
        if text is not None:
            try:
                meant = 0.0 if text == NONE and key in NO_HANDLE else read(text)
            except UnitError as error:
                refusals.take(_key(where, text_key), error)
                continue
            if isinstance(number, float) and not math.isclose(number, meant, rel_tol=AGREE, abs_tol=0.01):
                refusals.add(
                    _key(where, text_key),
                    "disagree",
                    f"{text!r} is {meant:g}, but {key} says {number:g}",
                    "correct one of them, or leave one out",
                )
                continue
            typed[text_key] = text
            number = meant if number is None else number
        if number is not None:
            values[key] = 0.0 if number == NONE else number
            settled.append(text_key)
    return Stated(values, typed, frozenset(settled))


def cord_from(record: CordRecord, refusals: Refusals) -> Stated:
    stated = sizes(record, refusals)
    plain = _stated(record, ("material", "construction", "supplier", "price_per_m", "notes"))
    return Stated({**plain, **stated.fields}, stated.typed, stated.settled)


def stock_from(record: StockRecord) -> CordStock:
    return CordStock(
        **_stated(record, ("cord", "colour", "lot", "metres", "price_per_m", "notes")),
    )


def rating_from(record: RatingRecord) -> RatingSession:
    plain = _stated(record, ("by", "on", "hours_of_use", "fall", "cracker", "notes"))
    return RatingSession(**plain, scores=_known(record.scores), feel=_known(record.feel))


def _known(values: Mapping[Any, Any]) -> dict[str, Any]:
    return {str(key): value for key, value in values.items() if value is not None}


def reading_from(shape: ReadingShape, refusals: Refusals, where: str = "") -> Reading | None:
    """The reading, or None where it is refused."""
    before = len(refusals.findings)
    stated = sizes(shape, refusals, where)
    values, typed = dict(stated.fields), dict(stated.typed)
    place = _named(shape.place, refusals, _key(where, "place"))
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
        refusals.add(_key(where, "place"), "two-places", "the reading has a station and a place", "keep one")
    if values.get("at_mm") is None and place is None and len(refusals.findings) == before:
        refusals.add(_key(where, "at_mm"), "missing", "is missing", "say where the reading was taken")
    diameter, girth = values.get("diameter_mm"), values.get("girth_mm")
    if len(refusals.findings) == before:
        if (diameter is None) == (girth is None):
            text = "a reading has no size" if diameter is None else "a reading has two sizes"
            refusals.add(_key(where, "diameter_mm"), "one-size", text, "give either diameter_mm or girth_mm")
        elif girth is None and "tape_mm" in values:
            refusals.add(
                _key(where, "tape_mm"), "tape-without-girth", "a tape measures a girth", "give girth_mm"
            )
        elif girth is not None and girth / math.pi <= values.get("tape_mm", 0.0):
            refusals.add(
                _key(where, "tape_mm"), "tape-too-thick", "the tape is thicker than the whip", "check both"
            )
    if len(refusals.findings) > before:
        return None
    plain = _stated(shape, ("after_layer", "condition", "on", "notes"))
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
        refusals.take(_key(where, "at"), error)
        return None
    if number is None:
        return meant
    if not math.isclose(number, meant, rel_tol=AGREE, abs_tol=0.5):
        refusals.add(
            _key(where, "at"),
            "disagree",
            f"{text!r} is {meant:g} mm, but at_mm says {number:g}",
            "correct one of them, or leave one out",
        )
    return number


def whip_from(record: WhipRecord, refusals: Refusals) -> WhipStated:
    """What a record states of a whip beside its layers and readings."""
    stated = sizes(record, refusals)
    values = dict(stated.fields)
    if values.get("handle_diameter_mm") == 0.0:
        del values["handle_diameter_mm"]
        if values.setdefault("handle_length_mm", 0.0) > 0.0:
            refusals.add(
                "handle_diameter_mm", "disagree", "there is no handle, but it has a length", "correct one"
            )
    plain = _stated(
        record,
        (
            "maker", "type", "status", "made_on", "build_number", "datum", "quoted_length",
            "layers_complete", "hours", "fall", "cracker", "notes",
        ),
    )  # fmt: skip
    if record.foundation is not None:
        plain["foundation"] = _foundation(record.foundation, refusals)
    if record.finish is not None:
        plain["finish"] = _words(record.finish)
    if record.turn_lengths is not None:
        plain["turn_lengths"] = _turn_lengths(record.turn_lengths, refusals)
    if record.balance is not None:
        plain["balance"] = _balance(record.balance, refusals)
    if record.cord_used is not None:
        plain["cord_used"] = tuple(CordUse(use.cord, use.metres) for use in record.cord_used)
    typed = dict(stated.typed)
    weight_g, weight_text = values.pop("weight_g", None), typed.pop("weight", None)
    weight_with = None if record.weight_with is None else _words(record.weight_with)
    weight = None
    if weight_g is not None:
        weight = Weight(weight_g, weight_with, None, {"weight": weight_text} if weight_text else {})
    rating = None if record.ratings is None else RatingSession(scores=_known(record.ratings))
    return WhipStated(
        own=Stated({**plain, **values}, typed, stated.settled),
        weight=weight,
        weights=None if record.weights is None else _weights(record.weights, refusals),
        rating=rating,
        weight_with=weight_with,
    )


def _foundation(shape: FoundationShape | str, refusals: Refusals) -> Foundation | str | None:
    if isinstance(shape, str):
        return shape
    stated = sizes(shape, refusals, "foundation")
    if "diameter_mm" not in stated.fields:
        refusals.add("foundation, diameter_mm", "missing", "is missing", 'give it, or "foundation":null')
        return None
    return Foundation(**stated.fields, material=shape.material, typed=stated.typed)


def _turn_lengths(shapes: list[TurnLengthShape], refusals: Refusals) -> tuple[TurnLength, ...]:
    found = []
    for number, shape in enumerate(shapes, start=1):
        where = f"turn_lengths {number}"
        stated = sizes(shape, refusals, where)
        if _complete(stated, ("at_mm", "turn_mm"), shape, refusals, where):
            found.append(TurnLength(**stated.fields, after_layer=shape.after_layer, typed=stated.typed))
    return tuple(found)


def _weights(shapes: list[WeightShape], refusals: Refusals) -> tuple[Weight, ...]:
    found = []
    for number, shape in enumerate(shapes, start=1):
        where = f"weights {number}"
        stated = sizes(shape, refusals, where)
        if _complete(stated, ("weight_g",), shape, refusals, where):
            parts = None if shape.with_parts is None else _words(shape.with_parts)
            found.append(Weight(stated.fields["weight_g"], parts, shape.after_layer, stated.typed))
    return tuple(found)


def _balance(shape: BalanceShape, refusals: Refusals) -> Balance | None:
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
                refusals.add(_key(where, key), "missing", "is missing", "give it, or leave this entry out")
    return complete


def _stated(record: Shape, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: value for name in names if (value := getattr(record, name)) is not None}


def _words(value: list[str] | str) -> Any:
    return value if isinstance(value, str) else tuple(value)


def _key(where: str, key: str) -> str:
    return f"{where}, {key}" if where else key
