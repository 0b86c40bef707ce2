"""The plan that a whip is made from, as it stands with the whip in a file."""

from typing import Any

from pydantic import Field

from plaitlog.service.schemas.layers import LayerShape
from plaitlog.service.schemas.values import (
    DiameterMm,
    Hours,
    MassG,
    Metres,
    Name,
    Shape,
    StationMm,
    Text,
    Whole,
)


class KeptStationShape(Shape):
    """What was expected from one station on, up to the next."""

    at_mm: StationMm = Field(description="Place, mm from the datum.")
    after_layer: Whole | None = Field(
        None, description="Over the layers up to this one, from 1, innermost; null: on the finished whip."
    )
    target_mm: DiameterMm | None = Field(None, description="Wanted diameter there, mm; null: none.")
    diameter_mm: DiameterMm = Field(description="Expected diameter, mm.")
    low_90_mm: DiameterMm = Field(description="Lower end of its 90 % interval, mm.")
    high_90_mm: DiameterMm = Field(description="Upper end of its 90 % interval, mm.")


class KeptCordShape(Shape):
    """Metres of a cord to be cut."""

    cord: Name = Field(description="Name of the cord.")
    metres: Metres = Field(description="Metres to cut, tails among them, m.")


class KeptPlanShape(Shape):
    """What was planned and expected when the whip was put on the bench, or last planned again."""

    fit: Whole | None = Field(None, description="Number of the fit it rested on; null: on geometry.")
    spec: dict[str, Any] | None = Field(None, description="What was asked for; null: layers were given.")
    layers: list[LayerShape] = Field(description="The planned layers, innermost first.", max_length=40)
    stations: list[KeptStationShape] = Field(
        description="What was expected, where it changes along the thong.", max_length=5000
    )
    cord_totals: list[KeptCordShape] | None = Field(None, description="Cord to cut, by cord.")
    weight_g: MassG | None = Field(None, description="Expected weight without fall and cracker, g.")
    weight_low_90_g: MassG | None = Field(None, description="Lower end of its 90 % interval, g.")
    weight_high_90_g: MassG | None = Field(None, description="Upper end of its 90 % interval, g.")
    balance_mm: StationMm | None = Field(None, description="Expected balance point, mm from the butt.")
    balance_low_90_mm: StationMm | None = Field(None, description="Lower end of its 90 % interval, mm.")
    balance_high_90_mm: StationMm | None = Field(None, description="Upper end of its 90 % interval, mm.")
    hours: Hours | None = Field(None, description="Expected hours of work.")
    rests_on: Text | None = Field(None, description="What it rested on, in words.")
