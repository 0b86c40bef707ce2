"""A whip beside the plan it was made from, as the server answers."""

from pydantic import Field

from plaitlog.service.schemas.answers import Wire


class PartsOut(Wire):
    """What lies between planned and measured, by reason; the parts add up to it."""

    fit: float = Field(description="What the fit has learnt since, mm.")
    condition: float = Field(description="The condition it was measured in, mm.")
    strands: float = Field(description="Strands laid otherwise than planned, mm.")
    inner: float = Field(description="Inner layers as they were measured, mm.")
    rest: float = Field(description="The rest: hand, cord and caliper, mm.")


class BesideLineOut(Wire):
    """One reading beside what was planned there."""

    at_mm: float = Field(description="Station, mm from the datum.")
    after_layer: int | None = Field(description="Layer it was measured on; null: on the finished whip.")
    measured_mm: float = Field(description="Measured diameter, mm.")
    target_mm: float | None = Field(description="Wanted diameter, mm; null: none, or an inner layer.")
    planned_mm: float = Field(description="Diameter that was expected by the plan, mm.")
    low_90_mm: float = Field(description="Lower end of its 90 % interval, mm.")
    high_90_mm: float = Field(description="Upper end of its 90 % interval, mm.")
    off_mm: float = Field(description="Measured less planned, mm.")
    inside: bool = Field(description="Whether it was measured within the interval.")
    doubtful: bool = Field(description="Whether the reading is marked as doubtful.")
    parts_mm: PartsOut | None = Field(description="Why; null: too little is known of the layers there, mm.")


class BesidePlanOut(Wire):
    """A whip beside its plan."""

    readings: list[BesideLineOut] = Field(
        description="Readings where something was planned: of the finished whip first, then of inner layers."
    )
    otherwise: list[str] = Field(description="Layers recorded otherwise than planned, in words.")
    whole: list[str] = Field(description="Weight, balance, cord and hours beside what was planned, in words.")
