"""Why a stack comes out as thick as it does: what each layer adds to the cross-section."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.calibration.prediction import Interval, Prediction, Query
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


def explained(
    in_force: InForce, query: Query, shown: ShownUnits, interval: Interval = "reading"
) -> tuple[Prediction, list[LayerShare]]:
    """The answer to a query, and every layer of its stack, inside out, a foundation first.

    Inner layers are as thick as they are predicted before they are covered, but no thicker than what lies
    over them; so the shares add up to the whole.
    """
    stack = query.stack
    count = len(stack.layers)
    so_far = [
        replace(query, stack=Stack(stack.layers[:upto], stack.foundation_mm), inner=True)
        for upto in range(1, count)
    ]
    told = in_force.predict([*so_far, query], interval)
    answer = told[-1]
    whole = answer.diameter_mm
    found: list[LayerShare] = []
    inner = min(stack.foundation_mm, whole)
    if inner:
        found.append(LayerShare("foundation", shown.diameter(inner), 0.0, inner, (inner / whole) ** 2))
    laid = calibrated_geometry(in_force.calibration, [stack])[0]
    for layer, size, lies in zip(stack.layers, told, laid, strict=True):
        outer = min(max(size.diameter_mm, inner), whole)
        share = (outer**2 - inner**2) / whole**2
        angle = None if lies.cos_angle is None else math.degrees(math.acos(lies.cos_angle))
        made_of = made_of_words(layer, shown)
        found.append(LayerShare(layer.role, made_of, inner, outer, share, lies.cover, angle))
        inner = outer
    return answer, found


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
