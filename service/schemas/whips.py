"""Whips as they stand in a file."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field, Tag

from plaitlog.models import units
from plaitlog.models.whip import Datum, Status
from plaitlog.service.schemas.kept_plan import KeptPlanShape
from plaitlog.service.schemas.layers import LayerShape, LineNotation
from plaitlog.service.schemas.ratings import OwnScores
from plaitlog.service.schemas.readings import BalanceShape, ReadingShape, TurnLengthShape, WeightShape
from plaitlog.service.schemas.values import (
    Day,
    DiameterMm,
    Hours,
    Keys,
    KnownNone,
    LengthMm,
    MassG,
    Metres,
    Name,
    Names,
    NoneOrValue,
    Shape,
    StationMm,
    Text,
    TextOrList,
    Typed,
    Whole,
    Yes,
)

ReadingsShape = Annotated[LineNotation | Annotated[list[ReadingShape], Tag("<list>")], TextOrList]
HandleDiameter = Annotated[Annotated[DiameterMm, Tag("<value>")] | KnownNone, NoneOrValue]
HandleLength = Annotated[Annotated[StationMm, Tag("<value>")] | KnownNone, NoneOrValue]


class FoundationShape(Shape):
    """A rod, spike or mandrel that the layers lie on."""

    as_typed: ClassVar[Keys] = {
        "diameter_mm": ("diameter", units.parse_diameter),
        "to_mm": ("to", units.parse_length),
    }

    diameter_mm: DiameterMm | None = Field(None, description="Diameter, mm.")
    diameter: Typed | None = Field(None, description="The same as typed, with its unit.")
    to_mm: StationMm | None = Field(None, description="Where it ends, mm from the datum; null: at the datum.")
    to: Typed | None = Field(None, description="The same as typed, with its unit.")
    material: Text | None = Field(None, description="What it is made of: steel, wood, ...")


class CordUseShape(Shape):
    """Metres of a cord that went into a whip."""

    cord: Name = Field(description="Name of the cord.")
    metres: Metres = Field(description="Metres that went into the whip, m.")


class WhipRecord(Shape):
    """One whip with everything that is known about it; only the label is required."""

    as_typed: ClassVar[Keys] = {
        "thong_length_mm": ("thong_length", units.parse_length),
        "handle_length_mm": ("handle_length", units.parse_length),
        "handle_diameter_mm": ("handle_diameter", units.parse_diameter),
        "weight_g": ("weight", units.parse_mass),
    }

    kind: Literal["whip"] = Field("whip", description="Kind of record: whip.")
    label: Name = Field(description="The whip's label, unique in the workshop.")
    maker: Name | None = Field(None, description="Name of the maker; one who is new is added.")
    type: Text | None = Field(None, description="Free text: bullwhip, stock whip, test plait, ...")
    status: Status | None = Field(None, description="planned, on the bench, finished, ...")
    made_on: Day | None = Field(None, description="Day it was finished.")
    build_number: Whole | None = Field(None, description="The maker's running number.")
    datum: Datum | None = Field(None, description="Where stations are counted from.")
    thong_length_mm: LengthMm | None = Field(None, description="Length of the thong, mm.")
    thong_length: Typed | None = Field(None, description="The same as typed, with its unit.")
    quoted_length: Text | None = Field(None, description="The length as quoted, saying what it includes.")
    handle_length_mm: HandleLength | None = Field(None, description="Length of the handle, mm.")
    handle_length: Typed | None = Field(None, description="The same as typed, with its unit.")
    handle_diameter_mm: HandleDiameter | None = Field(
        None, description="Diameter of the finished handle over everything, mm; it enters no stack."
    )
    handle_diameter: Typed | None = Field(None, description="The same as typed, with its unit.")
    foundation: Annotated[Annotated[FoundationShape, Tag("<value>")] | KnownNone, NoneOrValue] | None = Field(
        None, description='The rod or spike that the layers lie on, or "none".'
    )
    letters: dict[str, Name] | None = Field(
        None, description='Cords by the letter they have in line notation: {"A": "Ridge 4 mm"}.'
    )
    layers: list[LayerShape] | None = Field(None, description="The layers, innermost first.")
    layers_complete: Yes | None = Field(None, description="Whether the listed layers are all there are.")
    readings: ReadingsShape | None = Field(
        None, description="Readings, or a run of readings in line notation."
    )
    readings_text: Annotated[str, Field(max_length=200_000)] | None = Field(
        None, description="The line notation that readings were typed as; kept, not read again."
    )
    turn_lengths: list[TurnLengthShape] | None = Field(None, description="Turn lengths as measured.")
    finish: Names | None = Field(None, description='rolled, waxed, ...; or "none".')
    weight_g: MassG | None = Field(None, description="Weight of the finished whip, g.")
    weight: Typed | None = Field(None, description="The same as typed, with its unit.")
    weight_with: Names | None = Field(
        None, description='What was on the scale beside handle and thong, or "none".'
    )
    weights: list[WeightShape] | None = Field(None, description="Further weighings.")
    balance: BalanceShape | None = Field(None, description="The balance point.")
    hours: Hours | None = Field(None, description="Hours of work.")
    cord_used: list[CordUseShape] | None = Field(None, description="Cord that went into it.")
    fall: Text | None = Field(None, description='The fall fitted, or "none".')
    cracker: Text | None = Field(None, description='The cracker fitted, or "none".')
    ratings: OwnScores | None = Field(None, description="The maker's own rating, noted without a session.")
    plan: KeptPlanShape | None = Field(None, description="The plan it is made from, as it was then.")
    notes: Text | None = Field(None, description="Anything else worth noting.")
