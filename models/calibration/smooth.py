"""A low-rank smooth of a layer's own geometry: kernel features about a few centres.

k(g, h) = exp(-|g - h|^2 / 2) in coordinates divided by fixed length scales; features K(g, Z) L^-T with
K(Z, Z) = L L' have a unit prior (Nystroem), so one variance component scales the smooth.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from plaitlog.models.calibration.packed import PLAIT, Array, Index, PackedStacks

COORDINATES: Final = ("log cover", "log (D_in + d)/d", "log n", "log bare packing", "log d", "plaited")
SCALES: Final = np.array([0.4, 0.7, 0.8, 1.2, 2.0, 0.7])
"""Length scales: physical reasoning, about the range over which each changes the mechanics; long in the
cord's own packing and size, of which mechanics are nearly free: with few cords a short one takes each cord's
quirks for a law. "plaited" parts bundles from walls (correlation 0.36)."""
JITTER: Final = 1e-6
USUAL_COVER: Final = 0.85
"""Cover at which the correction for cover is zero: between gaps (0.70) and bunching (1)."""


@dataclass(frozen=True)
class Smooth:
    """Kernel centres (r, 6) in scaled coordinates and the inverse transposed Cholesky factor (r, r)."""

    centres: Array
    root: Array

    @property
    def size(self) -> int:
        return len(self.centres)

    def values(self, points: Array, coefficients: Array) -> Array:
        """The smooth (m,) at points (m, 6): features times coefficients (r,), without forming them."""
        values: Array = self._kernel(points) @ (self.root @ coefficients)
        return values

    def features_and_slopes(self, points: Array, coefficients: Array) -> tuple[Array, Array]:
        """Features (m, r) of scaled points (m, 6), their squared norm at most 1, and slopes (m, 2).

        The slopes are derivatives of the smooth by its first two scaled coordinates, those that move with
        diameters.
        """
        kernel = self._kernel(points)
        features: Array = kernel @ self.root
        kernel *= self.root @ coefficients
        slopes: Array = kernel @ self.centres[:, :2] - points[:, :2] * kernel.sum(axis=1)[:, None]
        return features, slopes

    def _kernel(self, points: Array) -> Array:
        kernel: Array = points @ self.centres.T
        kernel -= np.sum(points**2, axis=1)[:, None] / 2
        kernel -= np.sum(self.centres**2, axis=1) / 2
        np.minimum(kernel, 0.0, out=kernel)
        np.exp(kernel, out=kernel)
        return kernel


def fixed_points(packed: PackedStacks, row: Index, layer: Index) -> Array:
    """Scaled coordinates (m, 6) of layers; the first two, which move with the diameters, are left at zero."""
    points = np.zeros((len(row), len(SCALES)))
    points[:, 2] = np.log(np.maximum(packed.count[row, layer], 1.0) / 8)
    points[:, 3] = packed.log_packing[row, layer] - np.log(0.46)
    points[:, 4] = packed.log_diameter[row, layer] - np.log(4.0)
    points[:, 5] = packed.kind[row, layer] == PLAIT
    points /= SCALES
    return points


def with_diameters(points: Array, cover: Array, inner_ratio: Array) -> Array:
    """The points with their cover and D_in / d filled in."""
    points[:, 0] = np.log(cover / USUAL_COVER) / SCALES[0]
    points[:, 1] = np.log1p(inner_ratio) / SCALES[1]
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
