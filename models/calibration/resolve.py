"""The diameter of many stacks at once, with its derivatives with respect to each layer's log contribution."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.calibration.packed import (
    ABSENT,
    FILLER,
    GIVEN_DIAMETER,
    GIVEN_THICKNESS,
    PARALLEL,
    PLAIT,
    Array,
    PackedStacks,
)
from plaitlog.models.geometry import COS_LIMITS, GeometryConstants, bundle_added_mm2, solve_wall

BLUR: Final = 0.05
"""Log cosine on either side of a limit of the angle over which it ceases to follow the cover (own judgement:
what flat widths and diameters are known to)."""


@dataclass(frozen=True)
class ResolvedStacks:
    """n stacks of at most L layers, resolved from the inside out.

    diameter (n,). inner, outer, mean, added, cover, (n, L): per layer, cover 1 where nothing is plaited.
    jacobian (n, L): d log D / d eta, eta the correction to the log of a layer's contribution; through the
    fixed points and everything that lies above. inner_slope, outer_slope (n, L, L): d D / d eta in mm at the
    inside and outside of every layer. pulled (n,): share of D^2 that the pull can change.
    """

    diameter: Array
    inner: Array
    outer: Array
    mean: Array
    added: Array
    cover: Array
    jacobian: Array
    inner_slope: Array
    outer_slope: Array
    pulled: Array


def resolve(
    packed: PackedStacks, eta: Array, constants: GeometryConstants, *, slopes: bool = True
) -> ResolvedStacks:
    """Resolve stacks whose layer contributions are exp(eta) times what geometry says; eta (n, L).

    slopes : whether derivatives are worked out too; else they are zero (jacobian) and empty.
    """
    n, depth = packed.kind.shape
    diameter = packed.foundation.copy()
    slope = np.zeros((n, depth))
    inner, outer = np.zeros((n, depth)), np.zeros((n, depth))
    added, cover = np.zeros((n, depth)), np.ones((n, depth))
    kept = (n if slopes else 0, depth, depth)
    inner_slope, outer_slope = np.zeros(kept), np.zeros(kept)
    pulled = np.zeros(n)
    for layer in range(depth):
        inner[:, layer] = diameter
        if slopes:
            inner_slope[:, layer] = slope
        kind = packed.kind[:, layer]
        rows = np.flatnonzero((kind == PARALLEL) | (kind == FILLER))
        if len(rows):
            q = bundle_added_mm2(1.0, packed.area[rows, layer], constants.packing_core)
            q = q * np.exp(eta[rows, layer])
            before = diameter[rows]
            after = np.sqrt(before**2 + q)
            if slopes:
                slope[rows] *= (before / after)[:, None]
                slope[rows, layer] += q / (2 * after)
            added[rows, layer], diameter[rows] = q, after
            pulled[rows] += q
        rows = np.flatnonzero(kind == PLAIT)
        if len(rows):
            before = diameter[rows]
            bulk = bundle_added_mm2(1.0, packed.area[rows, layer], constants.packing_plait)
            wall = solve_wall(
                before,
                bulk * np.exp(eta[rows, layer]),
                packed.width[rows, layer],
                packed.turn[rows, layer],
                constants.gamma,
                constants.angle_deg,
            )
            after, q = wall.outer_mm, wall.added_mm2
            if slopes:
                # 1 - 1/elasticity is how much of the growth comes back through the angle; see solve_wall.
                back = 2 * after * (1 - 1 / wall.elasticity)
                total = 2 * after - back
                slope[rows] *= ((2 * before + back) / total)[:, None]
                slope[rows, layer] += q / total
            added[rows, layer], diameter[rows] = q, after
            cover[rows, layer] = wall.cover
            pulled[rows] += q
        rows = np.flatnonzero(kind == GIVEN_THICKNESS)
        diameter[rows] += 2 * packed.given[rows, layer]
        rows = np.flatnonzero(kind == GIVEN_DIAMETER)
        diameter[rows] = packed.given[rows, layer]
        slope[rows], pulled[rows] = 0.0, 0.0
        outer[:, layer] = diameter
        if slopes:
            outer_slope[:, layer] = slope
    safe = np.maximum(diameter, 1e-9)
    mean = np.where(packed.kind == ABSENT, 1.0, (inner + outer) / 2)
    return ResolvedStacks(
        diameter=safe,
        inner=inner,
        outer=outer,
        mean=mean,
        added=added,
        cover=cover,
        jacobian=slope / safe[:, None],
        inner_slope=inner_slope,
        outer_slope=outer_slope,
        pulled=np.clip(pulled / safe**2, 0.0, 1.0),
    )


def cover_followed(cover: Array, constants: GeometryConstants) -> Array:
    """How far the angle follows the cover: 1, falling to 0 about the limits of the angle."""
    free = np.log(np.cos(np.radians(constants.angle_deg))) * (1 - constants.gamma)
    wanted = free + constants.gamma * np.log(np.maximum(cover, 1e-9))
    low, high = np.log(COS_LIMITS)
    inside = np.minimum(high - wanted, wanted - low)
    return np.asarray(np.clip(0.5 + inside / (2 * BLUR), 0.0, 1.0))
