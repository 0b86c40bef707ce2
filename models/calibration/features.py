"""Features of a layer in which strands run, with the priors of their slopes."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.packed import ABSENT, FILLER, PARALLEL, PLAIT, Array, Index, PackedStacks
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.resolve import ResolvedStacks
from plaitlog.models.calibration.smooth import SCALES, USUAL_COVER, fixed_points, with_diameters

FEATURES: Final = (
    "core", "filler", "plait", "cover", "wall", "log diameter", "packing", "hollow", "solid", "first",
    "above", "bundle", "float", "softness", "measured",
    "turned",
)  # fmt: skip


def feature_priors(parameters: Parameters) -> tuple[Array, Array]:
    """Prior means and standard deviations of ``FEATURES``."""
    p = parameters
    sds = [
        p.sd_role, p.sd_role, p.sd_role, p.sd_cover, p.sd_wall, p.sd_log_diameter, p.sd_packing, p.sd_hollow,
        p.sd_solid, p.sd_first, p.sd_above, p.sd_bundle, p.sd_float, p.sd_softness, p.sd_measured,
        p.sd_turned,
    ]  # fmt: skip
    centred = {"softness": p.mean_softness, "packing": p.mean_packing}
    return np.array([centred.get(name, 0.0) for name in FEATURES]), np.array(sds)


@dataclass(frozen=True)
class Strands:
    """The layers in which strands run, as one list: m of them, in the order of row and layer.

    free (m,) : plaited, and its turn not measured: the angle is that of the cover law, which the feature
        "cover" corrects. A measured turn gives the angle itself, and the law has no say.
    fixed (m, len(FEATURES)) : features that do not move with the diameters, zero for those that do.
    thickness (m,) : caliper diameter of the cord.
    """

    row: Index
    layer: Index
    plaited: NDArray[np.bool_]
    free: NDArray[np.bool_]
    fixed: Array
    thickness: Array
    points: Array

    @staticmethod
    def of(packed: PackedStacks) -> "Strands":
        kind = packed.kind
        row, layer = np.nonzero((kind > ABSENT) & (kind <= PLAIT))
        plait = kind == PLAIT
        plaits_above = np.flip(np.cumsum(np.flip(plait, 1), 1), 1) - plait
        here = kind[row, layer]
        plaited = here == PLAIT
        turned = plaited & np.isfinite(packed.turn[row, layer])
        count = np.log(np.maximum(packed.count[row, layer], 1.0) / 8)
        floats = packed.float_length[row, layer]
        columns: dict[str, Array] = {
            "core": (here == PARALLEL).astype(float),
            "filler": (here == FILLER).astype(float),
            "plait": plaited.astype(float),
            "log diameter": packed.log_diameter[row, layer] - np.log(4.0),
            "packing": packed.log_packing[row, layer] - np.log(0.46),
            "hollow": packed.hollow[row, layer],
            "solid": packed.solid[row, layer],
            "above": plaits_above[row, layer].astype(float),
            "bundle": np.where(plaited, 0.0, count),
            "float": np.where(plaited, np.log(np.where(floats > 0, floats, 2.0) / 2), 0.0),
            "softness": packed.softness[row, layer],
            "measured": packed.measured[row, layer],
            "turned": turned.astype(float),
        }
        fixed = np.zeros((len(row), len(FEATURES)))
        for name, values in columns.items():
            fixed[:, FEATURES.index(name)] = values
        return Strands(
            row,
            layer,
            plaited,
            plaited & ~turned,
            fixed,
            np.exp(packed.log_diameter[row, layer]),
            fixed_points(packed, row, layer),
        )

    def features(self, resolved: ResolvedStacks, wall_offset: float, softer: Array | None = None) -> Array:
        """All features (m, len(FEATURES)) at these diameters; ``softer`` (n, L): added to the softness."""
        at = (self.row, self.layer)
        features = self.fixed.copy()
        if softer is not None:
            features[:, FEATURES.index("softness")] += softer[at]
        inner = resolved.inner[at]
        wall = np.log(resolved.mean[at] / (inner + wall_offset * self.thickness))
        features[:, FEATURES.index("cover")] = np.where(
            self.free, np.log(resolved.cover[at] / USUAL_COVER), 0.0
        )
        features[:, FEATURES.index("wall")] = np.where(self.plaited, wall, 0.0)
        features[:, FEATURES.index("first")] = self.plaited & (inner <= 0)
        return features

    def moved_points(self, resolved: ResolvedStacks) -> Array:
        """Coordinates (m, 6) of the layers for the smooth, at these diameters."""
        at = (self.row, self.layer)
        points = self.points.copy()
        return with_diameters(
            points,
            np.where(self.plaited, resolved.cover[at], USUAL_COVER),
            resolved.inner[at] / self.thickness,
        )

    def by_cover(self, slopes: Array, smooth: Array) -> Array:
        """How corrections move with the log of the cover at given diameters (m,); as ``feedback``."""
        moved = slopes[FEATURES.index("cover")] * self.free + smooth[:, 0] / SCALES[0]
        return np.where(self.plaited, moved, 0.0)

    def feedback(self, resolved: ResolvedStacks, slopes: Array, wall_offset: float, smooth: Array) -> Array:
        """How a layer's correction moves with its own and inner corrections, through its features: (n, L, L).

        slopes (len(FEATURES),): coefficients of the features. smooth (m, 2): derivatives of the smooth by its
        coordinates of cover and of the body inside.
        """
        at = (self.row, self.layer)
        inner, mean = resolved.inner[at], resolved.mean[at]
        by_mean = slopes[FEATURES.index("wall")] - slopes[FEATURES.index("cover")] * self.free
        by_mean = by_mean - smooth[:, 0] / SCALES[0]
        by_mean = np.where(self.plaited, by_mean, 0.0) / mean
        by_inner = smooth[:, 1] / SCALES[1] / (inner + self.thickness)
        wall = slopes[FEATURES.index("wall")] / (inner + wall_offset * self.thickness)
        by_inner -= np.where(self.plaited, wall, 0.0)
        inside, outside = resolved.inner_slope[at], resolved.outer_slope[at]
        feedback = np.zeros_like(resolved.inner_slope)
        feedback[at] = by_mean[:, None] * (inside + outside) / 2 + by_inner[:, None] * inside
        return feedback
