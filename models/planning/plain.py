"""The plain rule of the bench: drops at even distances over the part of the thong that tapers.

The strands of the governing layers go one after another: the core's singly to its end, then the belly's by
pairs, then the overlay's down to what is left at the point. Each takes the same share of the cross-section
where cords are alike, so the diameter squared falls in a straight line. Common practice, no source. Places
and lengths in mm from the datum.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.models.planning.asked import Asked, AskedLayer
from plaitlog.models.whip import Fate, Layer, Place, Step, StrandSchedule, exactly

ALMOST: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Drop:
    """A drop of a layer (slot, from 1) from one count to another."""

    slot: int
    at_mm: float
    before: int
    after: int


def places_every(spacing_mm: float, end_mm: float, from_mm: float = 0.0) -> list[float]:
    """Places at even distances behind ``from_mm``, none of them beyond ``end_mm``."""
    number = math.floor((end_mm - from_mm) / spacing_mm + ALMOST)
    return [from_mm + spacing_mm * k for k in range(1, number + 1)]


def even_spacing_mm(length_mm: float, drops: int) -> float:
    """The distance between drops that are spread over a length: length over their number."""
    return length_mm / drops


def evenly_dropped(
    layers: Sequence[tuple[int, int, int, int]], from_mm: float, to_mm: float, grid_mm: float
) -> list[Drop]:
    """Drops of the governing layers, evenly spaced and set to the grid.

    layers : slot, strands to begin with, strands in the end, strands of one drop, innermost first.
    The last strands of a layer that ends go with its last drop, where they are fewer than a drop takes.
    """
    order = [
        (slot, before, max(before - step, end))
        for slot, start, end, step in layers
        for before in range(start, end, -step)
    ]
    if not order:
        return []
    spacing = even_spacing_mm(to_mm - from_mm, len(order))
    return [
        Drop(slot, round(round((from_mm + spacing * k) / grid_mm) * grid_mm, 6), before, after)
        for k, (slot, before, after) in enumerate(order, start=1)
    ]


def plain_layers(asked: Asked, planned: Sequence[Layer]) -> tuple[Layer, ...]:
    """The planned layers with the same strands to begin with and at the point, dropped at even distances."""
    governing = []
    for slot, (question, layer) in enumerate(zip(asked.layers, planned, strict=True), start=1):
        if isinstance(question, AskedLayer) and layer.schedule is not None:
            steps = layer.schedule.steps
            step = 1 if layer.role == "core" else 2
            governing.append((slot, round(steps[0].total.mid), round(steps[-1].total.mid), step))
    target = asked.target
    drops = evenly_dropped(
        governing, target.held_to_mm, min(target.held_from_mm, asked.length_mm), asked.rules.grid_mm
    )
    return tuple(
        _with_drops(question, layer, [drop for drop in drops if drop.slot == slot])
        if isinstance(question, AskedLayer)
        else layer
        for slot, (question, layer) in enumerate(zip(asked.layers, planned, strict=True), start=1)
    )


def _with_drops(question: AskedLayer, layer: Layer, drops: Sequence[Drop]) -> Layer:
    assert layer.schedule is not None
    first = layer.schedule.steps[0]
    counts = {0.0: round(first.total.mid)}
    for drop in drops:
        counts[drop.at_mm] = drop.after  # two that share a node of the grid are one drop
    ends = layer.role != "core" and layer.fate is not None and layer.fate.kind == "tuck"
    steps = tuple(
        Step(
            Place(at, at),
            tuple(map(exactly, question.split(count))),
            Fate("cut") if ends and count == 0 else None,
        )
        for at, count in counts.items()
    )
    return Layer(
        role=layer.role,
        cords=layer.cords,
        schedule=StrandSchedule(steps, rest="point"),
        fate=layer.fate,
    )
