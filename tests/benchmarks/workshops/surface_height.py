"""Mechanics of a surface: flattened strands cross, the jaws of the calipers rest on the crossings."""

import math

from tests.benchmarks.workshops.cords import World
from tests.benchmarks.workshops.laying import LaidLayer


class SurfaceHeight:
    """Height over the body is a soft maximum over crossings, single strands and gaps.

    Strands that find no room at the angle of the hand stand up; a plait without a body can never be
    thinner than the bundle of its own strands.
    """

    name = "surface height"
    world = World(wide_cored=1.18, wide_gutted=1.38, polyester=0.96, gutted=1.03, loose=0.15)

    def core_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        return float((inner_mm**2.2 + _bundle_mm(layer) ** 2.2) ** (1 / 2.2))

    def plait_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        n, width = layer.count, layer.width_mm
        height = layer.area_mm2 / (0.80 * width)
        bundle = 1.07 * _bundle_mm(layer)
        outer = max(inner_mm + 3 * height, bundle)
        for _ in range(40):
            cover = n * width / (math.pi * (inner_mm + outer))
            crowd = cover / _hand_slope(cover)
            wall = height * _crown(crowd)
            new = ((inner_mm + 2 * wall) ** 7 + bundle**7) ** (1 / 7)
            if abs(new - outer) < 1e-6:
                break
            outer = 0.4 * outer + 0.6 * new
        return outer

    def squeezed_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        """The first layer presses the body most; strands that cross sink in by a part of their height."""
        sink = 0.12 * layer.area_mm2 / layer.width_mm * 0.6**layer.above
        return max(inner_mm - 2 * sink, 0.85 * inner_mm)


def _bundle_mm(layer: LaidLayer) -> float:
    one = math.sqrt(4 / math.pi * layer.area_mm2 / 0.78)
    return float(one * layer.count**0.5 * (1 + 0.10 * (1 - math.exp(-(layer.count - 1) / 3))))


def _hand_slope(cover: float) -> float:
    """Cosine of the angle: near 35 degrees by habit, steeper as the surface fills."""
    return 0.70 + 0.24 / (1 + math.exp(-(cover - 0.80) / 0.10))


def _crown(crowd: float) -> float:
    """Caliper height in strand heights; the share of crossings is the square of the share covered."""
    k = 1 - math.log1p(math.exp((1 - crowd) / 0.08)) * 0.08
    heights = k * k * 2.0**5 + 2 * k * (1 - k)
    crimped = heights**0.2 * (1 + 0.08 * k)
    return float(crimped * (1 + 0.9 * math.log1p(math.exp((crowd - 1.0) / 0.05)) * 0.05))
