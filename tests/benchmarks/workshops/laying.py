"""From a recorded stack to strands under tension: the only place where mechanics meet the record."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from plaitlog.models.stack import PLAITED, Stack, StackLayer
from tests.benchmarks.workshops.cords import MOST_STRANDS, HiddenCord, World

SHEATH_SHARE = 0.48
"""Share of a cored cord's fibre that is left when it is gutted (an invented figure)."""


@dataclass(frozen=True, slots=True)
class Strands:
    """Equal strands of one layer: how many, their area in the plait and flat width under this pull."""

    count: float
    area_mm2: float
    width_mm: float


@dataclass(frozen=True, slots=True)
class LaidLayer:
    """One layer under tension; ``above`` counts the plaited layers that press on it."""

    plaited: bool
    strands: tuple[Strands, ...] = ()
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    above: int = 0

    @property
    def count(self) -> float:
        return sum(group.count for group in self.strands)

    @property
    def area_mm2(self) -> float:
        """Mean area of one strand."""
        return sum(group.count * group.area_mm2 for group in self.strands) / self.count

    @property
    def width_mm(self) -> float:
        """Mean flat width of one strand."""
        return sum(group.count * group.width_mm for group in self.strands) / self.count


class Mechanics(Protocol):
    """How strands become a diameter; no scale of length enters, so thinner strands make a thinner whip."""

    name: str
    world: World

    def core_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        """Diameter over a bundle of parallel strands that lies around ``inner_mm``."""
        ...

    def plait_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        """Diameter over a plaited layer that lies on ``inner_mm``."""
        ...

    def squeezed_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        """What is left of the body ``inner_mm`` once ``layer`` is plaited on it."""
        ...


def outer_mm(
    mechanics: Mechanics,
    stack: Stack,
    hidden: Mapping[str, HiddenCord],
    pull: Callable[[int], float] = lambda slot: 0.0,
) -> float:
    """Diameter over the whole stack; ``pull(slot)`` is the log by which a slot's strands come out thicker."""
    inner = stack.foundation_mm
    rigid = inner
    for position, layer in enumerate(stack.layers):
        laid = _lay(layer, stack.layers[position + 1 :], hidden, math.exp(pull(layer.slot)))
        if laid.diameter_mm is not None:
            inner = rigid = laid.diameter_mm
        elif laid.thickness_mm is not None:
            inner += 2 * laid.thickness_mm
        elif laid.plaited:
            body = max(mechanics.squeezed_mm(laid, inner), rigid) if inner else 0.0
            inner = mechanics.plait_mm(laid, body)
        else:
            inner = mechanics.core_mm(laid, inner)
    return inner


def _lay(
    layer: StackLayer, outside: tuple[StackLayer, ...], hidden: Mapping[str, HiddenCord], scale: float
) -> LaidLayer:
    strands = []
    plaited = layer.role in PLAITED
    total = min(round(layer.count.mid), MOST_STRANDS)
    for group in layer.groups:
        cord = hidden[group.cord.name]
        sheath = group.gutted and cord.construction == "cored"
        area = cord.area_mm2 * (SHEATH_SHARE if sheath else 1.0)
        area *= cord.lie[total] if plaited else cord.bundling
        strands.append(Strands(group.count.mid, area * scale**2, cord.width_mm * scale))
    return LaidLayer(
        plaited=plaited,
        strands=tuple(strands),
        diameter_mm=layer.diameter_mm,
        thickness_mm=layer.thickness_mm,
        above=sum(other.role in PLAITED for other in outside),
    )
