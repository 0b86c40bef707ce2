"""From wire shapes to nouns: units read, text as typed kept, every refusal with its key.

A record states some fields of a noun; which ones it states decides what an update replaces. A key that is
null says no more than one that is absent.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeVar

from plaitlog.models.errors import Finding, InputError, UnitError
from plaitlog.models.whip import (
    NONE,
    Cord,
    CordStock,
    RatingSession,
    Whip,
)
from plaitlog.service.schemas.cords import CordRecord, StockRecord
from plaitlog.service.schemas.ratings import RatingRecord
from plaitlog.service.schemas.values import Shape

AGREE: Final = 0.005
"""Number and text of the same size may differ by this share: makers round, 6 ft is written as 1830 mm."""

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
                refusals.take(key_path(where, text_key), error)
                continue
            if isinstance(number, float) and not math.isclose(number, meant, rel_tol=AGREE, abs_tol=0.01):
                refusals.add(
                    key_path(where, text_key),
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
    plain = stated_keys(record, ("material", "construction", "supplier", "price_per_m", "notes"))
    return Stated({**plain, **stated.fields}, stated.typed, stated.settled)


def stock_from(record: StockRecord) -> CordStock:
    return CordStock(
        **stated_keys(record, ("cord", "colour", "lot", "metres", "price_per_m", "notes")),
    )


def rating_from(record: RatingRecord) -> RatingSession:
    plain = stated_keys(record, ("by", "on", "hours_of_use", "fall", "cracker", "compared_with", "notes"))
    return RatingSession(**plain, scores=known_values(record.scores), feel=known_values(record.feel))


def known_values(values: Mapping[Any, Any]) -> dict[str, Any]:
    return {str(key): value for key, value in values.items() if value is not None}


def stated_keys(record: Shape, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: value for name in names if (value := getattr(record, name)) is not None}


def words(value: list[str] | str) -> Any:
    return value if isinstance(value, str) else tuple(value)


def key_path(where: str, key: str) -> str:
    return f"{where}, {key}" if where else key
