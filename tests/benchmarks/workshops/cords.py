"""The cords of a simulated workshop: what is true of each, and what a maker measures of it."""

import math
from dataclasses import dataclass, replace

import numpy as np

from plaitlog.models.whip import Construction, Cord

FIBRE_DENSITY = {"nylon": 1.14, "polyester": 1.39}
SOFTNESS_SD = 0.07
FLATNESS_SD = 0.06
BUNDLING_SD = 0.04
LIE_SD = 0.02
MOST_STRANDS = 40
POOL_SIZE = 12


@dataclass(frozen=True, slots=True)
class World:
    """What cords are like on average where one kind of mechanics holds.

    ``wide_*``: flat width over bare diameter; ``packing_*``: solid share of the bare circle;
    ``polyester``, ``gutted``: plaited area of such cords against a cored nylon one of the same fibre area.
    ``loose``: exponent by which a cord that is loose when bare stays bulky in the plait.
    """

    wide_cored: float = 1.14
    wide_gutted: float = 1.40
    packing_cored: float = 0.50
    packing_gutted: float = 0.42
    polyester: float = 1.03
    gutted: float = 0.96
    loose: float = 0.0
    pressed_packing: float = 0.72


@dataclass(frozen=True, slots=True)
class HiddenCord:
    """The truth about one cord: mm, mm2 of solid fibre.

    Quirks are factors about 1: ``softness`` on its area, ``flatness`` on its width, ``bundling`` on its area
    where it lies parallel, ``lie`` on its area in a plait of so many strands (some counts lie better).
    """

    name: str
    material: str
    construction: Construction
    diameter_mm: float
    fibre_mm2: float
    flat_width_mm: float
    bulk: float
    softness: float
    flatness: float
    bundling: float = 1.0
    lie: tuple[float, ...] = (1.0,) * (MOST_STRANDS + 1)

    @property
    def width_mm(self) -> float:
        return self.flat_width_mm * self.flatness

    @property
    def area_mm2(self) -> float:
        """Fibre area times what kind and quirk make of it in a plait."""
        return self.fibre_mm2 * self.bulk * self.softness

    def without_quirks(self) -> "HiddenCord":
        return replace(self, softness=1.0, flatness=1.0, bundling=1.0, lie=(1.0,) * len(self.lie))


def draw_pool(rng: np.random.Generator, world: World) -> tuple[HiddenCord, ...]:
    """Twelve cords from 2 to 5 mm in random order: about two in five polyester, one in three gutted."""
    sizes = np.linspace(2.1, 4.9, POOL_SIZE) + rng.normal(0, 0.12, POOL_SIZE)
    order = rng.permutation(POOL_SIZE)
    gutted = set(rng.choice(POOL_SIZE, 4, replace=False).tolist())
    polyester = set(rng.choice(POOL_SIZE, 5, replace=False).tolist())
    return tuple(
        _draw_cord(rng, world, f"cord {place + 1:02d}", float(sizes[i]), i in gutted, i in polyester)
        for place, i in enumerate(order)
    )


def _draw_cord(
    rng: np.random.Generator, world: World, name: str, diameter: float, gutted: bool, polyester: bool
) -> HiddenCord:
    dense = math.exp(rng.normal(0, 0.08))
    packing = (world.packing_gutted if gutted else world.packing_cored) * dense
    kind = (world.gutted if gutted else 1.0) * (world.polyester if polyester else 1.0)
    return HiddenCord(
        name=name,
        material="polyester" if polyester else "nylon",
        construction="gutted" if gutted else "cored",
        diameter_mm=diameter,
        fibre_mm2=packing * math.pi / 4 * diameter**2,
        flat_width_mm=diameter * (world.wide_gutted if gutted else world.wide_cored),
        bulk=kind * dense**-world.loose,
        softness=math.exp(rng.normal(0, SOFTNESS_SD)),
        flatness=math.exp(rng.normal(0, FLATNESS_SD)),
        bundling=math.exp(rng.normal(0, BUNDLING_SD)),
        lie=tuple(np.exp(rng.normal(0, LIE_SD, MOST_STRANDS + 1)).tolist()),
    )


def as_measured(cord: HiddenCord, rng: np.random.Generator, world: World, *, ruler: bool) -> Cord:
    """The cord as the workshop knows it: calipers and scale; with ``ruler`` flat width and pressed thickness.

    Calipers are good to 0.05 mm, 10 m are weighed to a gram; ten strands side by side to half a mm;
    the pressed thickness is the mean of five pinches of 0.05 mm each.
    """
    density = FIBRE_DENSITY[cord.material] * cord.fibre_mm2
    pressed = cord.area_mm2 / (world.pressed_packing * cord.width_mm)
    noise = rng.normal(0, 1, 4)
    return Cord(
        name=cord.name,
        material=cord.material,
        construction=cord.construction,
        diameter_mm=round(cord.diameter_mm + 0.05 * float(noise[0]), 2),
        linear_density_g_per_m=round(density + 0.1 * float(noise[1]), 1),
        flat_width_mm=round(cord.width_mm + 0.05 * float(noise[2]), 2) if ruler else None,
        pressed_mm=round(pressed + 0.022 * float(noise[3]), 2) if ruler else None,
    )
