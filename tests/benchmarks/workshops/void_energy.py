"""Mechanics of volume: the plait settles where hand and gaps balance, and keeps voids that bending makes."""

import math

from tests.benchmarks.workshops.cords import World
from tests.benchmarks.workshops.laying import LaidLayer


class VoidEnergy:
    """The angle is the minimum of an energy: habit of the hand against open or crowded surface.

    Voids between strands grow with how sharply they are bent round the body and with gaps; layers above
    squeeze voids out, most of them from the core.
    """

    name = "void energy"
    world = World(wide_cored=1.10, wide_gutted=1.32, polyester=1.04, gutted=0.95)

    def core_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        voids = (0.10 + 0.22 * 0.62**layer.above) * (1 - 0.5 / layer.count)
        return math.sqrt(inner_mm**2 + 4 / math.pi * layer.count * layer.area_mm2 / 0.76 / (1 - voids))

    def plait_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        n, area, width = layer.count, layer.area_mm2, layer.width_mm
        thick = math.sqrt(area)
        outer = inner_mm + 3 * thick
        for _ in range(40):
            mean = (inner_mm + outer) / 2
            cover = n * width / (2 * math.pi * mean)
            slope = _settled_slope(cover)
            gap = 1 - cover / slope
            bent = thick / mean * (1 - slope**2) * 2.2
            voids = (0.12 + 0.30 * bent / (0.4 + bent) + 0.9 * gap**2) * 0.88**layer.above
            ring = n * area / 0.76 / slope / (1 - min(voids, 0.45))
            new = math.sqrt(inner_mm**2 + 4 / math.pi * ring)
            if abs(new - outer) < 1e-6:
                break
            outer = 0.4 * outer + 0.6 * new
        return outer

    def squeezed_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        """Voids that a layer presses out of everything below it."""
        share = layer.count * layer.area_mm2 / (layer.count * layer.area_mm2 + 2 * inner_mm**2)
        return inner_mm * (1 - 0.09 * share)


def _settled_slope(cover: float) -> float:
    """Cosine u that minimises (u - 0.80)^2 + (cover / u - 1)^2, by bisection of its derivative."""
    low, high = 0.45, 0.985
    for _ in range(22):
        u = (low + high) / 2
        rise = 2 * (u - 0.80) - 2 * (cover / u - 1) * cover / u**2
        low, high = (low, u) if rise > 0 else (u, high)
    return (low + high) / 2
