"""Mechanics, strand by strand: ellipses pressed flat by the belt tension, packed ring after ring."""

import math

from tests.benchmarks.workshops.cords import World
from tests.benchmarks.workshops.laying import LaidLayer

DISC_DENSITY = (1.0, 0.5, 0.646, 0.686, 0.685, 0.667, 0.778, 0.733, 0.689, 0.687, 0.714, 0.739)
"""Share of a circle filled by the densest packing of 1, 2, ... 12 equal discs."""


class RingPacking:
    """Soft strands in a ring are ellipses whose packing rises with pressure to a limit.

    Each ring takes as many strands as fit side by side; a ring that is only partly full still lifts the
    calipers, so the diameter grows faster at the start of a ring than at its end.
    """

    name = "ring packing"
    world = World(wide_cored=1.12, wide_gutted=1.45, polyester=1.05, gutted=0.94, loose=0.3)

    def core_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        solid = layer.count * layer.area_mm2 / _packing(0.05 + 0.35 * layer.above)
        n = max(1.0, layer.count)
        low = int(n)
        discs = _disc_density(low) + (n - low) * (_disc_density(low + 1) - _disc_density(low))
        return math.sqrt(inner_mm**2 + 4 / math.pi * solid / discs**0.6)

    def plait_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        n, area, width = layer.count, layer.area_mm2, layer.width_mm
        outer = inner_mm + 2 * math.sqrt(area)
        for _ in range(30):
            mean = (inner_mm + outer) / 2
            slope = _slope(n * width / (2 * math.pi * mean))
            belt = 4 * n * area * (1 - slope**2) / mean**2 + 0.4 * layer.above
            strand = area / _packing(belt)
            room = 2 * math.pi * mean * slope / n * 2
            breadth = (width**-6 + room**-6) ** (-1 / 6)
            height = strand / (math.pi / 4 * breadth)
            new = _ring_after_ring(n, inner_mm, breadth / slope, 0.86 * height)
            if abs(new - outer) < 1e-6:
                break
            outer = 0.4 * outer + 0.6 * new
        return outer

    def squeezed_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        """The belt closes on the body; a thin one gives more."""
        return inner_mm * (1 - 0.10 * layer.area_mm2**0.5 / (inner_mm + layer.area_mm2**0.5))


def _packing(pressure: float) -> float:
    """Solid share of a pressed strand: 0.54 loose, 0.88 at most."""
    return 0.88 - 0.34 / (1 + pressure) ** 1.4


def _disc_density(n: int) -> float:
    return DISC_DENSITY[n - 1] if n <= len(DISC_DENSITY) else 0.75


def _slope(cover: float) -> float:
    """Cosine of the plait angle: strands lie where they close the surface, between 18 and 50 degrees."""
    open_side = math.log1p(math.exp((cover - 0.66) / 0.06)) * 0.06 + 0.64
    return 0.95 - math.log1p(math.exp((0.95 - open_side) / 0.05)) * 0.05


def _ring_after_ring(n: float, inner: float, breadth: float, height: float) -> float:
    radius = inner / 2
    left = n
    for _ in range(6):
        room = 2 * math.pi * (radius + height / 2) / breadth
        if left <= room:
            return 2 * (radius + height * (left / room) ** 0.7)
        left -= room
        radius += height
    return 2 * (radius + height * left / room)
