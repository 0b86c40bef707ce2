"""Why a stack comes out as thick as it does: what each layer adds to the cross-section."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.stack import Stack, StackLayer
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits


@dataclass(frozen=True, slots=True)
class LayerShare:
    """A layer between two diameters in mm; ``share`` of the whole cross-section, 0 to 1.

    cover and angle_deg : where it is plaited, else None.
    """

    name: str
    made_of: str
    inner_mm: float
    outer_mm: float
    share: float
    cover: float | None = None
    angle_deg: float | None = None


def layer_shares(in_force: InForce, stack: Stack, shown: ShownUnits) -> list[LayerShare]:
    """Every layer of a stack, inside out, a foundation first; in a mean hand, as the fit lays them."""
    laid = calibrated_geometry(in_force.calibration, [stack])[0]
    whole = (laid[-1].outer_mm if laid else stack.foundation_mm) ** 2
    found = []
    if stack.foundation_mm:
        size = stack.foundation_mm
        found.append(LayerShare("foundation", shown.diameter(size), 0.0, size, size**2 / whole))
    for one in laid:
        share = max(one.outer_mm**2 - one.inner_mm**2, 0.0) / whole
        angle = None if one.cos_angle is None else math.degrees(math.acos(one.cos_angle))
        name, made_of = one.layer.role, made_of_words(one.layer, shown)
        found.append(LayerShare(name, made_of, one.inner_mm, one.outer_mm, share, one.cover, angle))
    return found


def made_of_words(layer: StackLayer, shown: ShownUnits) -> str:
    """What a layer is made of: 8 strands of Ridge 4 mm and 8 of Fell 3 mm, gutted."""
    if layer.diameter_mm is not None:
        return f"{shown.diameter(layer.diameter_mm)} thick"
    if layer.thickness_mm is not None:
        return f"{layer.thickness_mm:g} mm thick"
    words: list[str] = []
    for group in layer.groups:
        low, high = f"{group.count.low:g}", f"{group.count.high:g}"
        count = low if low == high else f"{low} to {high}"
        strands = "" if words else " strand" if count == "1" else " strands"
        words.append(f"{count}{strands} of {group.cord.name}")
    gutted = ", gutted" if any(group.gutted for group in layer.groups) else ""
    return " and ".join(words) + gutted


def readings_of_cords(in_force: InForce, stack: Stack) -> Sequence[tuple[str, int]]:
    """Every cord of a stack with the readings that the fit has of it."""
    return [(cord.name, in_force.calibration.cords.get(cord.name, 0)) for cord in stack.cords]
