"""95 % intervals of rank correlations: bias-corrected and accelerated bootstrap over whips (Efron 1987)."""

from functools import lru_cache
from typing import Final

import numpy as np
from scipy.stats import norm

from plaitlog.models.handling.ranks import Array, influence, resampled_correlations

MANY: Final = 1_000
"""Above so many whips intervals and p come in closed form: there the error of the form is less than that of
two thousand resamples and ten thousand draws."""
_AT_ONCE: Final = 2_000_000
"""Numbers held at once."""
_Z: Final = float(norm.ppf(0.975))


def rank_intervals(X: Array, Y: Array, rho: Array, resamples: int, seed: int) -> tuple[Array, Array]:
    """Low and high ends (p, q) of the rank correlations ``rho`` of rows of X (p, n) with rows of Y (q, n).

    Up to ``MANY`` whips by ``resamples`` of whips; above by Fisher's z with the standard error from each
    whip's influence (infinitesimal jackknife, Efron 1982). NaN where a row is constant or all resamples
    agree. Whips of the same number are resampled alike, so ends do not depend on what else is asked.
    """
    low, high = np.full(rho.shape, np.nan), np.full(rho.shape, np.nan)
    varies = [np.ptp(rows, axis=1) > 0 for rows in (X, Y)]
    drawn = None if X.shape[1] > MANY else _resampled(X, Y, resamples, seed)
    for i, j in np.argwhere(varies[0][:, None] & varies[1]).tolist():
        pull = influence(X[i], Y[j])
        if drawn is None:
            low[i, j], high[i, j] = _by_influence(float(rho[i, j]), pull)
        else:
            low[i, j], high[i, j] = _bca(drawn[:, i, j], float(rho[i, j]), pull)
    return low, high


def _bca(drawn: Array, rho: float, pull: Array) -> tuple[float, float]:
    drawn = drawn[~np.isnan(drawn)]
    spread = float((pull**2).sum())
    if len(drawn) == 0 or np.ptp(drawn) < 1e-12 or spread == 0:
        return float("nan"), float("nan")
    below = np.mean(drawn < rho - 1e-12) / 2 + np.mean(drawn <= rho + 1e-12) / 2
    bias = norm.ppf(np.clip(below, 0.5 / len(drawn), 1 - 0.5 / len(drawn)))
    acceleration = float((pull**3).sum()) / (6 * spread**1.5)
    reach = bias + np.array([-_Z, _Z])
    ends = np.quantile(drawn, norm.cdf(bias + reach / (1 - acceleration * reach)))
    return float(ends[0]), float(ends[1])


def _by_influence(rho: float, pull: Array) -> tuple[float, float]:
    if 1 - rho**2 < 1e-12:
        return float("nan"), float("nan")
    error = float(np.sqrt((pull**2).sum())) / len(pull)
    z, reach = np.arctanh(rho), _Z * error / (1 - rho**2)
    return float(np.tanh(z - reach)), float(np.tanh(z + reach))


def _resampled(X: Array, Y: Array, resamples: int, seed: int) -> Array:
    weights = _weights(X.shape[1], resamples, seed)
    step = max(1, _AT_ONCE // (X.shape[1] * (len(X) + len(Y))))
    parts = [weights[start : start + step] for start in range(0, resamples, step)]
    return np.concatenate([resampled_correlations(X, Y, part.astype(np.float64)) for part in parts])


@lru_cache(maxsize=1)
def _weights(n: int, resamples: int, seed: int) -> Array:
    """How often each of n whips is drawn in each resample (resamples, n)."""
    drawn = np.random.default_rng([seed, n]).integers(0, n, (resamples, n))
    drawn += n * np.arange(resamples)[:, None]
    return np.bincount(drawn.ravel(), minlength=resamples * n).reshape(resamples, n).astype(np.float32)
