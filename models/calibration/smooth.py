"""A low-rank smooth of a layer's own geometry: kernel features about a few centres.

k(g, h) = exp(-|g - h|^2 / 2) in coordinates divided by fixed length scales; features K(g, Z) L^-T with
K(Z, Z) = L L' have a unit prior (Nystroem), so one variance component scales the smooth.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from plaitlog.models.calibration.packed import PLAIT, Array, PackedStacks
from plaitlog.models.calibration.resolve import ResolvedStacks

COORDINATES: Final = ("log cover", "log (D_in + d)/d", "log n", "log bare packing", "log d", "plaited")
SCALES: Final = np.array([0.4, 0.7, 0.8, 0.4, 0.6, 0.7])
"""Length scales: physical reasoning, about the range over which each changes the mechanics; "plaited" parts
bundles from walls (correlation 0.36)."""
JITTER: Final = 1e-6


@dataclass(frozen=True)
class Smooth:
    """Kernel centres (r, 6) in scaled coordinates and the inverse transposed Cholesky factor (r, r)."""

    centres: Array
    root: Array

    @property
    def size(self) -> int:
        return len(self.centres)

    def features(self, points: Array) -> Array:
        """Features (..., r) of scaled points (..., 6); their squared norm is at most 1."""
        if self.size == 0:
            return points[..., :0]
        square: Array = np.sum(points**2, axis=-1)[..., None] + np.sum(self.centres**2, axis=-1)
        kernel = np.exp(np.minimum(points @ self.centres.T - square / 2, 0.0))
        features: Array = kernel @ self.root
        return features


def layer_points(packed: PackedStacks, resolved: ResolvedStacks) -> Array:
    """Scaled coordinates (n, L, 6) of every layer."""
    thickness = np.exp(packed.log_diameter)
    plaited = packed.kind == PLAIT
    points: Array = np.stack(
        [
            np.log(np.where(plaited, resolved.cover, 0.85) / 0.85),
            np.log1p(resolved.inner / thickness),
            np.log(np.maximum(packed.count, 1.0) / 8),
            packed.log_packing - np.log(0.46),
            packed.log_diameter - np.log(4.0),
            plaited.astype(float),
        ],
        axis=-1,
    )
    points /= SCALES
    return points


def smooth_of(points: Array, centres: int) -> Smooth:
    """Centres spread over points (m, 6), each the point farthest from those before (deterministic)."""
    unique: NDArray[np.float64] = np.unique(np.round(points, 2), axis=0)
    if len(unique) == 0 or centres == 0:
        return Smooth(np.zeros((0, points.shape[-1])), np.zeros((0, 0)))
    middle = unique.mean(axis=0)
    chosen = [int(np.argmin(np.sum((unique - middle) ** 2, axis=1)))]
    distance = np.sum((unique - unique[chosen[0]]) ** 2, axis=1)
    while len(chosen) < min(centres, len(unique)) and distance.max() > 0.05:
        chosen.append(int(np.argmax(distance)))
        distance = np.minimum(distance, np.sum((unique - unique[chosen[-1]]) ** 2, axis=1))
    return smooth_at(unique[chosen])


def smooth_at(centres: Array) -> Smooth:
    """The smooth with these scaled centres (r, 6)."""
    if len(centres) == 0:
        return Smooth(centres.reshape(0, len(SCALES)), np.zeros((0, 0)))
    square = np.sum((centres[:, None] - centres) ** 2, axis=-1)
    kernel = np.exp(-square / 2) + JITTER * np.eye(len(centres))
    lower = np.linalg.cholesky(kernel)
    root: Array = solve_triangular(lower, np.eye(len(centres)), lower=True).T
    return Smooth(centres, root)
