"""Ranks with ties, of whips and of resamples of whips, and their correlation (Spearman 1904)."""

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.stats import rankdata

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]


def standard_ranks(columns: Array) -> Array:
    """Mid-ranks of each row of (k, n), centred and of length 1, so that products are rank correlations.

    A row of one value only is all zeros. Every value has to be known (finite).
    """
    return unit_rows(rankdata(columns, method="average", axis=1))


def unit_rows(rows: Array, least: float = 1e-6) -> Array:
    """Rows of (k, n) centred and of length 1; zeros where less than ``least`` of a length is left."""
    centred = rows - rows.mean(axis=1, keepdims=True)
    length = np.linalg.norm(centred, axis=1, keepdims=True)
    kept: Array = np.where(length > least, centred / np.where(length > least, length, 1.0), 0.0)
    return kept


def spearman(x: Array, y: Array) -> float:
    """Rank correlation of two columns (n,) of known values, ties at mid-ranks; NaN if one is constant."""
    ranks = standard_ranks(np.vstack([x, y]))
    return float(ranks[0] @ ranks[1]) if ranks.any(axis=1).all() else float("nan")


def resampled_ranks(column: Array, weights: Array) -> Array:
    """Centred mid-ranks of a column (n,) in resamples: (resamples, n), for every whip of the column.

    weights : (resamples, n), how often each whip was drawn; each row sums to n. The rank of a value is the
    weight of all lower ones and half the weight of its equals, less n / 2.
    """
    order = np.argsort(column, kind="stable")
    ordered = column[order]
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    ties = np.empty(len(column), dtype=np.intp)
    ties[order] = np.cumsum(np.isin(np.arange(len(column)), starts)) - 1
    mass = weights[:, order]
    if len(starts) < len(column):
        mass = np.add.reduceat(mass, starts, axis=1)
    middle = np.cumsum(mass, axis=1) - mass / 2 - len(column) / 2
    ranks: Array = middle[:, ties]
    return ranks


def resampled_correlations(X: Array, Y: Array, weights: Array) -> Array:
    """Rank correlations (resamples, p, q) of rows of X (p, n) with rows of Y (q, n) in each resample.

    NaN where a resample holds one value only.
    """
    root = np.sqrt(weights)
    x, y = (np.stack([resampled_ranks(row, weights) * root for row in rows], axis=1) for rows in (X, Y))
    cross = x @ y.transpose(0, 2, 1)
    size = np.einsum("bpn,bpn->bp", x, x)[:, :, None] * np.einsum("bqn,bqn->bq", y, y)[:, None, :]
    found: Array = np.where(size > 1e-9, cross / np.sqrt(np.where(size > 1e-9, size, 1.0)), np.nan)
    return np.clip(found, -1.0, 1.0)


def influence(x: Array, y: Array) -> Array:
    """Empirical influence (n,) of each whip on the rank correlation of two columns, neither constant.

    With mid-distribution functions F and G, a = F(x) - 1/2, b = G(y) - 1/2, and above(x, b) the mean of b
    over whips above x (equals by half): the influence on the covariance mean(a b) is a b - 3 mean(a b) +
    above(x, b) + above(y, a), and so for both variances; the quotient rule does the rest (derived from
    Croux & Dehon 2010, who have it without ties).
    """
    a, b = ((rankdata(column) - 0.5) / len(column) - 0.5 for column in (x, y))
    covariance, of_x, of_y = float(np.mean(a * b)), float(np.mean(a * a)), float(np.mean(b * b))
    on_covariance = a * b - 3 * covariance + _above(x, b) + _above(y, a)
    on_x = a * a - 3 * of_x + 2 * _above(x, a)
    on_y = b * b - 3 * of_y + 2 * _above(y, b)
    rho = covariance / np.sqrt(of_x * of_y)
    found: Array = on_covariance / np.sqrt(of_x * of_y) - rho / 2 * (on_x / of_x + on_y / of_y)
    return found


def _above(column: Array, values: Array) -> Array:
    """Mean over all whips of ``values``, counted where ``column`` is above a whip's own, half at equals."""
    _, ties = np.unique(column, return_inverse=True)
    sums: npt.NDArray[Any] = np.bincount(ties, weights=values)
    above = sums.sum() - np.cumsum(sums) + sums / 2
    found: Array = above[ties] / len(column)
    return found
