"""What measured turn lengths say: plait angle, the cover that goes with it, the length of strands."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import slot_of_turn, stack_at
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnAngle:
    """One measured turn.

    layer : counted from 1, innermost. angle_deg : of the strands to the thong's axis, on the diameters of the
    fit. strand_per_thong : length of a strand, crimp and stretch included, over that of the thong.
    """

    at_mm: float
    layer: int
    turn_mm: float
    angle_deg: float
    cover: float
    strand_per_thong: float

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    def words(self, units: ShownUnits) -> str:
        at, turn = units.length(self.at_mm), units.length(self.turn_mm)
        return (
            f"at {at}, layer {self.layer}: one turn in {turn} is an "
            f"angle of {self.angle_deg:.0f} degrees; cover {self.cover:.2f}; a strand takes "
            f"{self.strand_per_thong:.2f} times the length of thong"
        )


def turn_angles(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> list[TurnAngle]:
    """Every turn of a plait whose stack is known, in the order of the record."""
    found = []
    for turn in whip.turn_lengths:
        slot = slot_of_turn(whip, turn.after_layer)
        try:
            stack = stack_at(whip, turn.at_mm, cords, turn.after_layer)
        except StackNotKnownError:
            continue
        (layers,) = calibrated_geometry(in_force.calibration, [stack])
        for laid in layers:
            if laid.layer.slot == slot and laid.cos_angle is not None and laid.cover is not None:
                found.append(
                    TurnAngle(
                        at_mm=turn.at_mm,
                        layer=laid.layer.slot,
                        turn_mm=turn.turn_mm,
                        angle_deg=math.degrees(math.acos(laid.cos_angle)),
                        cover=laid.cover,
                        strand_per_thong=laid.path,
                    )
                )
    return found
