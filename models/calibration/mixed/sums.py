"""Weighted cross products of a mixed model, with one block per level of the absorbed factor."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Sums:
    """UU = U'WU (c, c), Uy (c,); per level PP (L, m, m), PU (L, m, c), Py (L, m)."""

    UU: FloatArray
    Uy: FloatArray
    PP: FloatArray
    PU: FloatArray
    Py: FloatArray


def group_starts(levels: IntArray, level_count: int) -> IntArray:
    """First row of every level, and the number of rows, for ascending levels."""
    return np.searchsorted(levels, np.arange(level_count + 1)).astype(np.intp)


def weighted_sums(U: FloatArray, P: FloatArray, y: FloatArray, starts: IntArray, weight: FloatArray) -> Sums:
    """Cross products with row weights (n,); level l holds rows starts[l] : starts[l + 1]."""
    root = np.sqrt(weight)
    scaled = U * root[:, None]
    UU = scaled.T @ scaled  # numpy takes the symmetric rank-k product here: half the work, exactly symmetric
    Uy = scaled.T @ (root * y)
    n, m, level_count = len(y), P.shape[1], len(starts) - 1
    if m == 0 or level_count == 0:
        return Sums(UU, Uy, np.zeros((0, m, m)), np.zeros((0, m, U.shape[1])), np.zeros((0, m)))
    PW = P * weight[:, None]
    Py = level_sums(PW * y[:, None], starts)
    PP = level_sums((PW[:, :, None] * P[:, None, :]).reshape(n, m * m), starts)
    # One sparse row for every level and column of P.
    lengths = np.repeat(np.diff(starts), m)
    rows = np.repeat(np.repeat(starts[:-1], m), lengths) + _ramps(lengths)
    columns = np.repeat(np.tile(np.arange(m), level_count), lengths)
    pointer = np.concatenate([[0], np.cumsum(lengths)])
    spread = csr_array((PW[rows, columns], rows, pointer), shape=(level_count * m, n))
    PU: FloatArray = np.asarray(spread @ U)
    return Sums(UU, Uy, PP.reshape(level_count, m, m), PU.reshape(level_count, m, U.shape[1]), Py)


def level_sums(rows: FloatArray, starts: IntArray) -> FloatArray:
    """Sums (L, k) of rows (n, k) by level; a level without rows has zeros."""
    n, level_count = len(rows), len(starts) - 1
    indicator = csr_array((np.ones(n), np.arange(n), starts), shape=(level_count, n))
    sums: FloatArray = np.asarray(indicator @ rows)
    return sums


def _ramps(lengths: IntArray) -> IntArray:
    """0 .. lengths[0] - 1, 0 .. lengths[1] - 1, and so on."""
    ends = np.cumsum(lengths)
    return np.arange(ends[-1] if len(ends) else 0) - np.repeat(ends - lengths, lengths)
