"""Wire shapes of a prediction: one question and one answer a line.

Keys that end in a unit hold numbers; the same key without that ending takes text as a maker types it.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from plaitlog.models.whip import Condition
from plaitlog.service.schemas.cords import CordRecord

Size = Annotated[float, Field(gt=0, le=200)]
"""A diameter, width or thickness in mm."""
Station = Annotated[float, Field(ge=-5_000, le=30_000)]
"""A place along the thong in mm from the datum; the handle may lie below 0."""
Typed = Annotated[str, Field(min_length=1, max_length=60)]
Count = Annotated[int, Field(ge=1, le=400)]
Id = str | int | float | bool | None


class Wire(BaseModel):
    """Nothing is guessed: unknown keys, numbers in quotes, NaN and infinities are refused by name."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class CordShare(Wire):
    """One of several cords in a layer."""

    cord: str | CordRecord = Field(description="name in the workshop, or the cord itself")
    share: Annotated[float, Field(gt=0, le=400)] = Field(1.0, description="share of the layer's strands")


class LayerIn(Wire):
    """One layer of a stack, innermost first: strands of a cord, or a given diameter or thickness."""

    role: Literal["core", "belly", "bolster", "binding", "overlay", "filler"] = Field(
        description="what the layer is; filler: strands that run on inside after they were dropped"
    )
    cord: str | CordRecord | None = Field(None, description="name in the workshop, or the cord itself")
    cords: tuple[CordShare, ...] | None = Field(None, description="instead of cord, where there are several")
    strands: Count | tuple[Count, Count] | None = Field(None, description="count, or [least, most]")
    gutted: bool = Field(False, description="the strands lie here without their inner yarns")
    pattern: Annotated[str, Field(max_length=80)] | None = Field(None, description="e.g. u2o2u2o2")
    turn_mm: Annotated[float, Field(gt=0, le=5_000)] | None = Field(None, description="mm, turn length")
    turn: Typed | None = Field(None, description="text with its unit")
    diameter_mm: Size | None = Field(None, description="mm, for core, bolster or binding without strands")
    diameter: Typed | None = Field(None, description="text with its unit")
    thickness_mm: Annotated[float, Field(gt=0, le=50)] | None = Field(None, description="mm, likewise")
    thickness: Typed | None = Field(None, description="text with its unit")
    what: str | None = Field(None, description="what a layer without strands is: tape, rope, ...")


class ReadingIn(Wire):
    """A reading already taken on the same whip, on the stack it names (an inner one too)."""

    layers: tuple[LayerIn, ...] = Field(description="the stack that was measured, inside out")
    at_mm: Station | None = Field(None, description="mm from the datum")
    at: Typed | None = Field(None, description="text with its unit")
    diameter_mm: Size | None = Field(None, description="mm")
    diameter: Typed | None = Field(None, description="text with its unit")
    girth_mm: Annotated[float, Field(gt=0, le=650)] | None = Field(None, description="mm, with a tape")
    tape_mm: Annotated[float, Field(ge=0, le=5)] | None = Field(None, description="mm, the tape's thickness")
    foundation_mm: Size | Literal["none"] | None = Field(
        None, description="mm, where another foundation than the question's runs at this reading"
    )
    condition: Condition | None = Field(None, description="rolled where not stated")
    doubtful: bool = Field(False, description="it counts less: the maker doubts it")


class QueryIn(Wire):
    """One question: how thick does this stack come out?"""

    id: Id = Field(None, description="given back as it came")
    maker: Annotated[str, Field(max_length=200)] | None = Field(
        None, description="whose hands; one who is not in the fit widens the interval"
    )
    at_mm: Station | None = Field(None, description="mm from the datum, where it matters")
    at: Typed | None = Field(None, description="text with its unit")
    foundation_mm: Size | Literal["none"] | None = Field(
        None, description="mm, a rod that runs at this station"
    )
    foundation: Typed | None = Field(None, description="text with its unit")
    condition: Condition | None = Field(None, description="rolled where not stated")
    layers: tuple[LayerIn, ...] = Field(description="the stack, inside out")
    readings: tuple[ReadingIn, ...] = Field((), description="readings from the same whip")


class FindingOut(Wire):
    """Something worth knowing about an answer."""

    code: str = Field(description="short name, stable for programs")
    text: str = Field(description="what was found, with place and value")
    remedy: str = Field("", description="what can be done about it")


class PredictionOut(Wire):
    """One answer: the median diameter with equal-tailed intervals, in mm."""

    id: Id = Field(None, description="as it was asked")
    diameter_mm: float = Field(description="mm, median")
    sd_log: float = Field(description="standard deviation of the natural logarithm")
    low_50_mm: float = Field(description="mm, lower end of the 50 % interval")
    high_50_mm: float = Field(description="mm, upper end of the 50 % interval")
    low_90_mm: float = Field(description="mm, lower end of the 90 % interval")
    high_90_mm: float = Field(description="mm, upper end of the 90 % interval")
    cover: float | None = Field(None, description="cover of the outermost plaited layer")
    new_cord: bool = Field(description="some layer's cord has no reading in the fit")
    findings: tuple[FindingOut, ...] = Field((), description="what is worth knowing about it")


class RefusalOut(Wire):
    """What comes in the place of an answer that cannot be given."""

    id: Any = Field(None, description="as it was asked, where it can be told")
    error: FindingOut = Field(description="why there is no answer, and what can be done")
