"""What is measured on a whip, as it stands in a file."""

from typing import ClassVar, Literal

from pydantic import Field

from plaitlog.models import units
from plaitlog.models.whip import Condition, Datum
from plaitlog.service.schemas.values import (
    Day,
    DiameterMm,
    GirthMm,
    Keys,
    LengthMm,
    MassG,
    Name,
    Names,
    Position,
    Shape,
    StationMm,
    Text,
    Typed,
    Yes,
)


class ReadingShape(Shape):
    """One diameter or one girth at a station. Readings at one station are repeats, not duplicates."""

    as_typed: ClassVar[Keys] = {
        "diameter_mm": ("diameter", units.parse_diameter),
        "girth_mm": ("girth", units.parse_girth),
        "tape_mm": ("tape", units.parse_thickness),
    }

    at_mm: StationMm | None = Field(None, description="Station, mm from the whip's datum.")
    at: Typed | None = Field(None, description='The same as typed ("12 in", "p", "thick", "mid").')
    place: Typed | None = Field(None, description="A named place: thick, mid or p (the point).")
    diameter_mm: DiameterMm | None = Field(None, description="Caliper reading, mm.")
    diameter: Typed | None = Field(None, description="The same as typed, with its unit.")
    girth_mm: GirthMm | None = Field(None, description="Girth by tape, mm.")
    girth: Typed | None = Field(None, description="The same as typed, with its unit.")
    tape_mm: DiameterMm | None = Field(None, description="Thickness of the tape, mm.")
    tape: Typed | None = Field(None, description="The same as typed, with its unit.")
    after_layer: Position | None = Field(
        None, description="Outermost layer when it was read, counted from 1, innermost; null: finished."
    )
    condition: Condition | None = Field(None, description="fresh, rolled, waxed or broken in.")
    doubtful: Yes | None = Field(None, description="Whether the maker doubts this reading.")
    on: Day | None = Field(None, description="Day of the reading.")
    notes: Text | None = Field(None, description="Anything else worth noting.")


class ReadingRecord(ReadingShape):
    """A reading on a whip that is in the workshop or in the same file."""

    kind: Literal["reading"] = Field("reading", description="Kind of record: reading.")
    whip: Name = Field(description="Label of the whip.")


class TurnLengthShape(Shape):
    """How far along the thong one strand needs for one turn."""

    as_typed: ClassVar[Keys] = {"at_mm": ("at", units.parse_length), "turn_mm": ("turn", units.parse_length)}

    at_mm: StationMm | None = Field(None, description="Station, mm from the whip's datum.")
    at: Typed | None = Field(None, description="The same as typed, with its unit.")
    turn_mm: LengthMm | None = Field(None, description="Length of one turn, mm.")
    turn: Typed | None = Field(None, description="The same as typed, with its unit.")
    after_layer: Position | None = Field(None, description="Layer it was read on, counted from 1, innermost.")


class WeightShape(Shape):
    """One weighing beside the finished one."""

    as_typed: ClassVar[Keys] = {"weight_g": ("weight", units.parse_mass)}

    weight_g: MassG | None = Field(None, description="Weight, g.")
    weight: Typed | None = Field(None, description="The same as typed, with its unit.")
    with_parts: Names | None = Field(
        None, alias="with", description='What was on the scale beside handle and thong, or "none".'
    )
    after_layer: Position | None = Field(
        None, description="Outermost layer when it was weighed, counted from 1, innermost; null: finished."
    )


class BalanceShape(Shape):
    """The balance point, and how the whip was held."""

    as_typed: ClassVar[Keys] = {"at_mm": ("at", units.parse_length)}

    at_mm: StationMm | None = Field(None, description="Balance point, mm from the end that is named.")
    at: Typed | None = Field(None, description="The same as typed, with its unit.")
    counted_from: Datum = Field("butt", alias="from", description="butt or handle end.")
    how: Text | None = Field(None, description='How it was held: "laid straight", "hanging", ...')
