"""Wire shapes of a prediction: one question and one answer a line.

Keys that end in a unit hold numbers; the same key without that ending takes text as a maker types it.
"""

from typing import Annotated, Literal

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

    cord: str | CordRecord
    share: Annotated[float, Field(gt=0, le=400)] = Field(1.0, description="share of the layer's strands")


class LayerIn(Wire):
    """One layer of a stack, innermost first: strands of a cord, or a given diameter or thickness."""

    role: Literal["core", "belly", "bolster", "binding", "overlay", "filler"]
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
    what: str | None = None


class ReadingIn(Wire):
    """A reading already taken on the same whip, on the stack it names (an inner one too)."""

    layers: tuple[LayerIn, ...]
    at_mm: Station | None = Field(None, description="mm from the datum")
    at: Typed | None = Field(None, description="text with its unit")
    diameter_mm: Size | None = Field(None, description="mm")
    diameter: Typed | None = Field(None, description="text with its unit")
    girth_mm: Annotated[float, Field(gt=0, le=650)] | None = Field(None, description="mm, with a tape")
    tape_mm: Annotated[float, Field(ge=0, le=5)] | None = Field(None, description="mm, the tape's thickness")
    foundation_mm: Size | Literal["none"] | None = Field(
        None, description="mm, where another foundation than the question's runs at this reading"
    )
    condition: Condition | None = None
    doubtful: bool = False


class QueryIn(Wire):
    """One question: how thick does this stack come out?"""

    id: Id = Field(None, description="given back as it came")
    maker: Annotated[str, Field(max_length=200)] | None = None
    at_mm: Station | None = Field(None, description="mm from the datum, where it matters")
    at: Typed | None = Field(None, description="text with its unit")
    foundation_mm: Size | Literal["none"] | None = Field(
        None, description="mm, a rod that runs at this station"
    )
    foundation: Typed | None = Field(None, description="text with its unit")
    condition: Condition | None = Field(None, description="rolled where not stated")
    layers: tuple[LayerIn, ...] = Field(description="the stack, inside out")
    readings: tuple[ReadingIn, ...] = ()


class FindingOut(Wire):
    code: str
    text: str
    remedy: str = ""


class PredictionOut(Wire):
    """One answer: the median diameter with equal-tailed intervals, in mm."""

    id: Id = None
    diameter_mm: float = Field(description="mm, median")
    sd_log: float = Field(description="standard deviation of the natural logarithm")
    low_50_mm: float
    high_50_mm: float
    low_90_mm: float
    high_90_mm: float
    cover: float | None = Field(None, description="cover of the outermost plaited layer")
    new_cord: bool = Field(description="some layer's cord has no reading in the fit")
    findings: tuple[FindingOut, ...] = ()


class RefusalOut(Wire):
    """What comes in the place of an answer that cannot be given."""

    id: Id = None
    error: FindingOut
