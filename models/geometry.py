"""Plait geometry: what is known about a stack before any whip is recorded.

Lengths in mm, areas in mm2, linear density in g/m, fibre density in g/cm3, angles against the axis.
Functions take numbers or arrays that broadcast against each other and give arrays of that shape.
A layer *adds to D squared*: D_out^2 = D_in^2 + added, from the inside out.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from plaitlog.models.stack import PLAITED, Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord

Array = npt.NDArray[np.float64]
Numbers = npt.ArrayLike

FIBRE_DENSITY: Final = {
    "nylon": 1.14, "polyamide": 1.14, "polyester": 1.38, "polypropylene": 0.91, "polyethylene": 0.95,
    "hmpe": 0.97, "cotton": 1.52, "aramid": 1.44, "steel": 7.85, "leather": 0.86,
}  # fmt: skip
"""g/cm3 at 65 % r.h. Morton & Hearle, Physical Properties of Textile Fibres, tables 5.1 and 5.2
(polyester printed as 1.38 and 1.39); leather: value from memory."""
UNKNOWN_DENSITY: Final = 1.14
"""Taken for a material that is not listed: nylon, the usual cord (common practice, no source)."""
UNKNOWN_DIAMETER_MM: Final = 4.0
"""Taken for a cord of which no size is known: parachute cord measures about 5/32 in (secondary pages)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GeometryConstants:
    """The constants of the geometry. Each is a starting value that recorded whips correct.

    packing_bare : fibre share of a bare cord's round section. MIL-C-5040H type III, 225 ft/lb at 4.0 mm
        and 1.14 g/cm3, gives 0.4617.
    packing_solid : the same for a cut strand (leather): physical reasoning, corners are missing.
    packing_core : fibre share of a bundle bound by a plait. Laid nylon rope fills 0.62 to 0.67 of its
        circle (rope tables); physical reasoning: a bundle of soft cords stays a little below.
    packing_plait : fibre share of a plaited wall. Physical reasoning: a pressed strand fills about 0.65,
        crossings leave some air.
    angle_deg : plait angle at the usual cover; an overlay strand is about one and a half times the
        thong with tail and crimp (common practice, no source), which is 40 degrees.
    gamma : how far the angle follows the cover, 0 a fixed angle, 1 the closing angle; physical
        reasoning: real plaits lie between.
    width_cored, width_gutted : flat width in a plait over caliper diameter. Own reasoning: a cored cord
        flattens a little; half the girth of an emptied round sheath would be 1.57.
    sheath_share : mass of the sheath over that of the cord. MIL-C-5040H types II and IIA (same sheath,
        IIA without core): 3.0064 / 5.6157; the 495 ft/lb of IIA is from memory.
    crimp, stretch : strand path over the helix, and how much a strand is stretched when it is laid
        (physical reasoning: several per cent in nylon).
    """

    packing_bare: float = 0.46
    packing_solid: float = 0.90
    packing_core: float = 0.58
    packing_plait: float = 0.58
    angle_deg: float = 40.0
    gamma: float = 0.5
    width_cored: float = 1.10
    width_gutted: float = 1.35
    sheath_share: float = 0.535
    crimp: float = 1.03
    stretch: float = 0.05


CONSTANTS: Final = GeometryConstants()
COS_LIMITS: Final = (0.34, 0.97)
"""Cosines of 70 and 14 degrees: braiders work within about 15 to 75 degrees (value from memory)."""


def _array(values: Numbers) -> Array:
    return np.asarray(values, dtype=np.float64)


def solid_area_mm2(linear_density_g_per_m: Numbers, fibre_density_g_per_cm3: Numbers) -> Array:
    """Fibre area of one strand: linear density / fibre density (g/m over g/cm3 gives mm2)."""
    return _array(linear_density_g_per_m) / _array(fibre_density_g_per_cm3)


def bare_area_mm2(diameter_mm: Numbers, packing_bare: Numbers = CONSTANTS.packing_bare) -> Array:
    """Fibre area guessed from the caliper diameter alone: packing * pi/4 * d^2."""
    return _array(packing_bare) * (math.pi / 4) * np.square(_array(diameter_mm))


def bare_packing(area_mm2: Numbers, diameter_mm: Numbers) -> Array:
    """Fibre share of a bare cord's round section: a / (pi/4 d^2)."""
    return _array(area_mm2) / ((math.pi / 4) * np.square(_array(diameter_mm)))


def diameter_of_area_mm(area_mm2: Numbers, packing: Numbers) -> Array:
    """Diameter of a round section of that fibre area: sqrt(4 a / (pi packing)) (Peirce 1937)."""
    return np.sqrt(4 * _array(area_mm2) / (math.pi * _array(packing)))


def fibre_density(cord: Cord) -> float:
    """Fibre density in g/cm3: as noted, else of the material, else that of nylon."""
    if cord.fibre_density_g_per_cm3 is not None:
        return cord.fibre_density_g_per_cm3
    material = cord.material.strip().lower()
    if material in FIBRE_DENSITY:
        return FIBRE_DENSITY[material]
    named = [density for word, density in FIBRE_DENSITY.items() if word in material]
    return named[0] if named else UNKNOWN_DENSITY


def cord_diameter_mm(cord: Cord, constants: GeometryConstants = CONSTANTS) -> float:
    """Caliper diameter just touching: as noted, else from the linear density, else 4.0 mm."""
    if cord.diameter_mm is not None:
        return cord.diameter_mm
    if cord.linear_density_g_per_m is not None:
        area = solid_area_mm2(cord.linear_density_g_per_m, fibre_density(cord))
        return float(diameter_of_area_mm(area, _packing(cord, constants)))
    return UNKNOWN_DIAMETER_MM


def strand_area_mm2(cord: Cord, gutted: bool = False, constants: GeometryConstants = CONSTANTS) -> float:
    """Fibre area of one strand in mm2; ``gutted``: of a cored cord only the sheath counts.

    Without a linear density it is guessed from the diameter (``area_is_measured`` tells).
    """
    if cord.linear_density_g_per_m is not None:
        area = float(solid_area_mm2(cord.linear_density_g_per_m, fibre_density(cord)))
    else:
        area = float(bare_area_mm2(cord_diameter_mm(cord, constants), _packing(cord, constants)))
    return area * constants.sheath_share if gutted and cord.construction == "cored" else area


def area_is_measured(cord: Cord) -> bool:
    """Whether the fibre area rests on a weighed length, not on the caliper diameter alone."""
    return cord.linear_density_g_per_m is not None


def _packing(cord: Cord, constants: GeometryConstants) -> float:
    return constants.packing_solid if cord.construction == "solid" else constants.packing_bare


def flat_width_mm(cord: Cord, gutted: bool = False, constants: GeometryConstants = CONSTANTS) -> float:
    """Width of a strand lying in a plait: as measured, else a multiple of the caliper diameter.

    The measured width is that of the cord as it is kept, so a cord gutted for filler takes the multiple.
    """
    if cord.flat_width_mm is not None and width_is_measured(cord, gutted):
        return cord.flat_width_mm
    wide = cord.construction == "gutted" or (gutted and cord.construction == "cored")
    return (constants.width_gutted if wide else constants.width_cored) * cord_diameter_mm(cord, constants)


def width_is_measured(cord: Cord, gutted: bool = False) -> bool:
    """Whether the flat width of the strand is measured; that of a cord gutted only in the plait is not."""
    return cord.flat_width_mm is not None and not (gutted and cord.construction == "cored")


def bundle_added_mm2(strands: Numbers, area_mm2: Numbers, packing: Numbers = CONSTANTS.packing_core) -> Array:
    """What n parallel strands add to D^2: (4/pi) n a / packing."""
    return (4 / math.pi) * _array(strands) * _array(area_mm2) / _array(packing)


def plait_added_mm2(
    strands: Numbers, area_mm2: Numbers, cos_angle: Numbers, packing: Numbers = CONSTANTS.packing_plait
) -> Array:
    """What a plaited layer at a known angle adds to D^2: (4/pi) n a / (packing cos(angle))."""
    return bundle_added_mm2(strands, area_mm2, packing) / _array(cos_angle)


def cover(strands: Numbers, width_mm: Numbers, mean_diameter_mm: Numbers) -> Array:
    """n w / (2 pi d_m): the cosine at which n strands of width w just close the surface."""
    mean = _array(mean_diameter_mm)
    return _array(strands) * _array(width_mm) / (2 * math.pi * mean)


def closing_angle_deg(cover_: Numbers) -> Array:
    """Angle at which the strands just close: arccos(cover), 0 at or above a cover of 1."""
    return np.degrees(np.arccos(np.minimum(_array(cover_), 1.0)))


def braid_tightness(
    strands: Numbers, width_mm: Numbers, mean_diameter_mm: Numbers, angle_deg: Numbers
) -> Array:
    """k = N w / (4 pi r cos(angle)), r to the middle of the wall (Du & Popper 1994): cover / cos(angle)."""
    return cover(strands, width_mm, mean_diameter_mm) / np.cos(np.radians(_array(angle_deg)))


def coverage_factor(tightness: Numbers) -> Array:
    """CF = 1 - (1 - k)^2, the share of the surface that is covered; 1 from k = 1 on (Du & Popper 1994)."""
    return _array(1 - np.square(1 - np.minimum(_array(tightness), 1.0)))


def angle_from_turn_deg(turn_mm: Numbers, mean_diameter_mm: Numbers) -> Array:
    """Angle of a strand that goes once round in ``turn_mm`` of thong: arctan(pi d_m / turn)."""
    turn, mean = _array(turn_mm), _array(mean_diameter_mm)
    return _array(np.degrees(np.arctan2(math.pi * mean, turn)))


def plait_cos(
    cover_: Numbers, gamma: Numbers = CONSTANTS.gamma, angle_deg: Numbers = CONSTANTS.angle_deg
) -> Array:
    """Cosine of the plait angle: cos(angle)^(1 - gamma) * cover^gamma, clipped to 14..70 degrees."""
    gamma = _array(gamma)
    free = np.cos(np.radians(_array(angle_deg))) ** (1 - gamma)
    return np.clip(free * _array(cover_) ** gamma, *COS_LIMITS)


@dataclass(frozen=True, slots=True)
class Wall:
    """A plaited layer solved for: arrays of one shape.

    ``elasticity`` is d log(added) / d log(fibre area) at fixed D_in.
    """

    outer_mm: Array
    mean_mm: Array
    added_mm2: Array
    cos_angle: Array
    cover: Array
    elasticity: Array


def solve_wall(
    inner_mm: Numbers,
    bulk_mm2: Numbers,
    strands_width_mm: Numbers,
    turn_mm: Numbers = np.inf,
    gamma: Numbers = CONSTANTS.gamma,
    angle_deg: Numbers = CONSTANTS.angle_deg,
) -> Wall:
    """Solve D_out^2 = D_in^2 + bulk / cos(angle), whose angle depends on d_m = (D_in + D_out) / 2.

    Parameters
    ----------
    inner_mm : D_in, >= 0.
    bulk_mm2 : (4/pi) n a / packing_plait, > 0: what the layer would add lying along the axis.
    strands_width_mm : n w, > 0.
    turn_mm : measured turn length, infinite where there is none; it then sets the angle by
        tan(angle) = pi d_m / turn, else the angle follows the cover (``plait_cos``).

    An angle at one of its limits gives D_out at once. Between them Newton's method starts at the widest D_out
    there can be, from where it runs down a convex function to the root: six steps reach rounding error.
    """
    inner, bulk, turn = (_array(x) for x in (inner_mm, bulk_mm2, turn_mm))
    width = _array(strands_width_mm)
    gamma = _array(gamma)
    free = np.cos(np.radians(_array(angle_deg))) ** (1 - gamma)
    given = np.isfinite(turn)
    turned = bool(given.any())
    per_turn = np.where(given, math.pi / np.where(given, turn, 1.0), 0.0)

    def wanted(mean: Array) -> Array:
        return np.asarray(free * (width / (2 * math.pi * mean)) ** gamma)

    def outer_at(cosine: float) -> Array:
        return np.asarray(np.sqrt(np.square(inner) + bulk / cosine))

    widest, narrowest = (outer_at(limit) for limit in COS_LIMITS)
    steepest = wanted((inner + widest) / 2) <= COS_LIMITS[0]
    flattest = wanted((inner + narrowest) / 2) >= COS_LIMITS[1]

    limited, limit = steepest | flattest, np.where(steepest, *COS_LIMITS)
    following = np.where(limited, 0.0, gamma)

    def angle(mean: Array) -> tuple[Array, Array]:
        cosine = np.where(limited, limit, wanted(mean))
        if not turned:
            return cosine, following
        measured = 1 / np.sqrt(1 + np.square(per_turn * mean))
        return np.where(given, measured, cosine), np.where(given, 1 - np.square(measured), following)

    # With a measured turn 1 / cos(angle) <= 1 + pi d_m / turn, which bounds D_out by a quadratic equation.
    half = bulk * per_turn / 4
    bound = half + np.sqrt(np.square(half) + np.square(inner) + bulk + 2 * half * inner)
    outer = np.where(given, bound, np.where(flattest, narrowest, widest))
    for _ in range(6):
        mean = (inner + outer) / 2
        cosine, follow = angle(mean)
        added = bulk / cosine
        miss = np.square(outer) - np.square(inner) - added
        step = miss / (2 * outer - added * follow / (2 * mean))
        outer = outer - step
        if np.max(np.abs(step), initial=0.0) < 1e-13 * np.max(outer, initial=0.0):
            break
    mean = (inner + outer) / 2
    cosine, follow = angle(mean)
    added = bulk / cosine
    elasticity = 1 / (1 - follow * added / (4 * outer * mean))
    return Wall(outer, mean, added, cosine, width / (2 * math.pi * mean), elasticity)


def wall_elasticity(gamma: Numbers, added_mm2: Numbers, inner_mm: Numbers, outer_mm: Numbers) -> Array:
    """d log(added) / d log(area) = 1 / (1 - gamma q / (4 D_out d_m)): 1 on a thick body, up to 2 alone."""
    outer = _array(outer_mm)
    mean = (_array(inner_mm) + outer) / 2
    return 1 / (1 - _array(gamma) * _array(added_mm2) / (4 * outer * mean))


def strand_path(
    cos_angle: Numbers, crimp: Numbers = CONSTANTS.crimp, stretch: Numbers = CONSTANTS.stretch
) -> Array:
    """Cord used per length of thong: crimp / cos(angle), less its stretch: / (1 + stretch)."""
    return _array(crimp) / (_array(cos_angle) * (1 + _array(stretch)))


def mass_per_length_g_per_m(strands: Numbers, linear_density_g_per_m: Numbers, path: Numbers = 1.0) -> Array:
    """n * linear density * strand path, in g per m of thong."""
    return _array(strands) * _array(linear_density_g_per_m) * _array(path)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerGeometry:
    """One layer of a stack. ``cover`` and ``cos_angle`` are None where nothing is plaited."""

    layer: StackLayer
    inner_mm: float
    outer_mm: float
    added_mm2: float
    fibre_mm2: float = 0.0
    cover: float | None = None
    cos_angle: float | None = None
    elasticity: float = 1.0

    @property
    def mean_mm(self) -> float:
        return (self.inner_mm + self.outer_mm) / 2


@dataclass(frozen=True, slots=True)
class StackGeometry:
    """The diameter of a stack and what each layer adds; counts given as spans count at their middle."""

    layers: tuple[LayerGeometry, ...]
    foundation_mm: float

    @property
    def diameter_mm(self) -> float:
        return self.layers[-1].outer_mm if self.layers else self.foundation_mm

    @property
    def mass_g_per_m(self) -> float:
        """Mass of the strands per m of thong (layers without strands and the foundation left out)."""
        return sum(_layer_mass(layer) for layer in self.layers)


def geometric_diameter(stack: Stack, constants: GeometryConstants = CONSTANTS) -> StackGeometry:
    """Resolve a stack from the inside out, by geometry alone."""
    inner = stack.foundation_mm
    resolved: list[LayerGeometry] = []
    for layer in stack.layers:
        found = _resolve(layer, inner, constants)
        resolved.append(found)
        inner = found.outer_mm
    return StackGeometry(tuple(resolved), stack.foundation_mm)


def _resolve(layer: StackLayer, inner: float, constants: GeometryConstants) -> LayerGeometry:
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        outer = layer.diameter_mm if layer.diameter_mm is not None else inner + 2 * (layer.thickness_mm or 0)
        return LayerGeometry(layer=layer, inner_mm=inner, outer_mm=outer, added_mm2=outer**2 - inner**2)
    fibre = sum(strands_of(g) * strand_area_mm2(g.cord, g.gutted, constants) for g in layer.groups)
    if fibre == 0:
        return LayerGeometry(layer=layer, inner_mm=inner, outer_mm=inner, added_mm2=0.0)
    if layer.role not in PLAITED:
        added = float(bundle_added_mm2(1, fibre, constants.packing_core))
        outer = math.sqrt(inner**2 + added)
        return LayerGeometry(layer=layer, inner_mm=inner, outer_mm=outer, added_mm2=added, fibre_mm2=fibre)
    width = sum(strands_of(g) * flat_width_mm(g.cord, g.gutted, constants) for g in layer.groups)
    bulk = bundle_added_mm2(1, fibre, constants.packing_plait)
    turn = np.inf if layer.turn_mm is None else layer.turn_mm
    wall = solve_wall(inner, bulk, width, turn, constants.gamma, constants.angle_deg)
    return LayerGeometry(
        layer=layer,
        inner_mm=inner,
        outer_mm=float(wall.outer_mm),
        added_mm2=float(wall.added_mm2),
        fibre_mm2=fibre,
        cover=float(wall.cover),
        cos_angle=float(wall.cos_angle),
        elasticity=float(wall.elasticity),
    )


def strands_of(group: StrandGroup) -> float:
    """Strand count of a group, the middle where it is a span."""
    return group.count.mid


def _layer_mass(found: LayerGeometry, constants: GeometryConstants = CONSTANTS) -> float:
    path = 1.0 if found.cos_angle is None else float(strand_path(found.cos_angle))
    total = 0.0
    for group in found.layer.groups:
        density = strand_area_mm2(group.cord, group.gutted, constants) * fibre_density(group.cord)
        total += float(mass_per_length_g_per_m(strands_of(group), density, path))
    return total
