"""HELD OUT: an empirical power law. Never tune the model, its constants or its priors on these mechanics.

They only judge: a figure that is good on the other kinds and poor here shows a model fitted to simulators.
"""

from tests.benchmarks.workshops.cords import World
from tests.benchmarks.workshops.laying import LaidLayer


class PowerLaw:
    """Sections add with an exponent other than two, strands count a little less than one by one.

    HELD OUT of all tuning.
    """

    name = "power law"
    world = World(wide_cored=1.16, wide_gutted=1.42, polyester=1.0, gutted=0.94, loose=0.25)

    def core_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        size = layer.area_mm2**0.5
        section = 1.60 * layer.count**0.97 * size**1.9 * (1 - 0.07 * min(layer.above, 3))
        return float((inner_mm**1.9 + section) ** (1 / 1.9))

    def plait_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        size = layer.area_mm2**0.55 * layer.width_mm**-0.1
        crowded = layer.count * layer.width_mm / (6.3 * inner_mm + 5.6 * layer.count**0.5 * size)
        section = 2.75 * layer.count**0.93 * size**1.9 * (crowded / 0.8) ** -0.3
        section *= 1 + 0.25 * size / (inner_mm + size)
        return float((inner_mm**1.9 + section) ** (1 / 1.9))

    def squeezed_mm(self, layer: LaidLayer, inner_mm: float) -> float:
        return inner_mm * (1 - 0.035 * 0.5**layer.above)
