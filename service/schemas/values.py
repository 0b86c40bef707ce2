"""Values that stand in records: what each may hold, and how a wrong one is refused."""

import datetime as dt
import json
import math
from collections.abc import Callable, Mapping
from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    StringConstraints,
    Tag,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from plaitlog.models import units


def refusal(code: str, text: str, remedy: str) -> PydanticCustomError:
    """What a validator raises: the same three parts as a finding, in the project's own words."""
    return PydanticCustomError("refused", "{text}; {remedy}", {"code": code, "text": text, "remedy": remedy})


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        if isinstance(value, str):
            raise refusal("not-a-number", f"{shown(value)} is text", "write a number")
        raise refusal("not-a-number", f"{shown(value)} is not a number", "write a number")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise refusal(
            "not-finite", f"{shown(value)} is not a size", "write a finite number, or null if not known"
        )
    return number


def _size(limit: float, unit: str) -> Any:
    def check(value: Any) -> float:
        number = _number(value)
        if number <= 0:
            raise refusal(
                "not-a-size",
                f"{value} is not a size",
                f"write a number of {unit} above 0, or null if not known",
            )
        if number > limit:
            raise refusal(
                "absurd", f"{value} is more than any whip has ({limit:.0f} {unit})", "check number and unit"
            )
        return number

    return check


def _from_zero(limit: float, unit: str) -> Any:
    def check(value: Any) -> float:
        number = _number(value)
        if number < 0:
            raise refusal("negative", f"{value} is below 0", f"write 0 or more {unit}, or null if not known")
        if number > limit:
            raise refusal(
                "absurd", f"{value} is more than any whip has ({limit:.0f} {unit})", "check number and unit"
            )
        return number

    return check


def _between(low: float, high: float, what: str) -> Any:
    def check(value: Any) -> float:
        number = _number(value)
        if not low <= number <= high:
            raise refusal(
                "out-of-range", f"{value} is not {what}", f"write a number from {low:g} to {high:g}"
            )
        return number

    return check


def _date(value: Any) -> dt.date:
    try:
        date = dt.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise refusal("not-a-date", f"{shown(value)} is not a date", "write it like 2026-03-02") from None
    # Midnight passes at different times round the world: the later of two calendars counts.
    if date > max(dt.datetime.now(dt.UTC).date(), dt.datetime.now().astimezone().date()):
        raise refusal("in-the-future", f"{value} is in the future", "check the date")
    return date


def _text_or_list(value: Any) -> str:
    return "<text>" if isinstance(value, str) else "<list>"


def _none_or_value(value: Any) -> str:
    return "<none>" if value == "none" else "<value>"


def _score_or_word(value: Any) -> str:
    return "<word>" if isinstance(value, str) else "<value>"


# Which half of a union is meant is told from the value, so that a refusal speaks of that half alone.
# Tags in angle brackets never show: no key is written so.
TextOrList = Discriminator(_text_or_list)
NoneOrValue = Discriminator(_none_or_value)
ScoreOrWord = Discriminator(_score_or_word)
KnownNone = Annotated[Literal["none"], Tag("<none>")]


def shown(value: Any) -> str:
    """A value as it stood in the file, shortened."""
    text = repr(value) if isinstance(value, str) else json.dumps(value, ensure_ascii=False, default=repr)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _json(kind: str, **more: Any) -> WithJsonSchema:
    return WithJsonSchema({"type": kind, **more})


HOURS_LIMIT: Final = 10_000.0
METRES_LIMIT: Final = 1_000_000.0
PRICE_LIMIT: Final = 1_000_000.0

DiameterMm = Annotated[
    float,
    BeforeValidator(_size(units.DIAMETER_LIMIT_MM, "mm")),
    _json("number", exclusiveMinimum=0, maximum=units.DIAMETER_LIMIT_MM),
]
GirthMm = Annotated[
    float,
    BeforeValidator(_size(units.GIRTH_LIMIT_MM, "mm")),
    _json("number", exclusiveMinimum=0, maximum=units.GIRTH_LIMIT_MM),
]
LengthMm = Annotated[
    float,
    BeforeValidator(_size(units.LENGTH_LIMIT_MM, "mm")),
    _json("number", exclusiveMinimum=0, maximum=units.LENGTH_LIMIT_MM),
]
StationMm = Annotated[
    float,
    BeforeValidator(_from_zero(units.LENGTH_LIMIT_MM, "mm")),
    _json("number", minimum=0, maximum=units.LENGTH_LIMIT_MM),
]
MassG = Annotated[
    float,
    BeforeValidator(_size(units.MASS_LIMIT_G, "g")),
    _json("number", exclusiveMinimum=0, maximum=units.MASS_LIMIT_G),
]
LinearDensity = Annotated[
    float,
    BeforeValidator(_size(units.LINEAR_DENSITY_LIMIT_G_PER_M, "g/m")),
    _json("number", exclusiveMinimum=0, maximum=units.LINEAR_DENSITY_LIMIT_G_PER_M),
]
FibreDensity = Annotated[
    float,
    BeforeValidator(_size(units.FIBRE_DENSITY_LIMIT_G_PER_CM3, "g/cm3")),
    _json("number", exclusiveMinimum=0, maximum=units.FIBRE_DENSITY_LIMIT_G_PER_CM3),
]
Metres = Annotated[float, BeforeValidator(_from_zero(METRES_LIMIT, "m")), _json("number", minimum=0)]
Price = Annotated[float, BeforeValidator(_from_zero(PRICE_LIMIT, "")), _json("number", minimum=0)]
Hours = Annotated[float, BeforeValidator(_from_zero(HOURS_LIMIT, "hours")), _json("number", minimum=0)]
Share = Annotated[float, BeforeValidator(_size(1_000, "strands")), _json("number", exclusiveMinimum=0)]
Score = Annotated[float, BeforeValidator(_between(1, 10, "a rating")), _json("number", minimum=1, maximum=10)]
FeelNote = Annotated[
    float, BeforeValidator(_between(-2, 2, "a two-sided note")), _json("number", minimum=-2, maximum=2)
]
Day = Annotated[dt.date, BeforeValidator(_date), _json("string", format="date")]
Text = Annotated[str, StringConstraints(max_length=20_000)]
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
Names = Annotated[Annotated[list[Name], Tag("<value>")] | KnownNone, NoneOrValue]
Typed = Annotated[str, StringConstraints(min_length=1, max_length=200)]
Whole = Annotated[int, Field(strict=True, ge=0, le=2**31 - 1)]
Position = Annotated[int, Field(strict=True, ge=1, le=1_000)]
Yes = Annotated[bool, Field(strict=True)]


Keys = Mapping[str, tuple[str, Callable[[str], float]]]


class Shape(BaseModel):
    """A wire shape: unknown keys are refused, numbers are numbers and text is text.

    ``as_typed`` names, for every key that holds a number in a unit, the key beside it that takes the same
    as text, and how that text is read.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    as_typed: ClassVar[Keys] = {}
