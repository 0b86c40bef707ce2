"""What a fitted mixed model knows: moments of coefficients and level effects, and predictions from them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import cho_factor, cho_solve, solve_triangular

from plaitlog.models.calibration.mixed.absorbed import eliminate, inverse_of
from plaitlog.models.calibration.mixed.mixed_model import LinearMixedModel

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Posterior:
    """First and second moments, in the caller's columns (p of X, m absorbed columns, L levels).

    Moments over the draws of the standard deviations when it comes from `averaged_posterior`.
    """

    component_names: tuple[str, ...]
    component_variances: FloatArray  # (components,) mean of s^2, [0] the residual variance
    coefficients: FloatArray  # (p,)
    covariance: FloatArray  # (p, p)
    level_means: FloatArray  # (L, m)
    level_covariances: FloatArray  # (L, m, m)
    level_cross: FloatArray  # (L, m, p) covariance of level effects with coefficients
    new_level_variance: FloatArray  # (m,) of a level never seen

    @property
    def residual_variance(self) -> float:
        return float(self.component_variances[0])


def posterior_at(model: LinearMixedModel, sds: ArrayLike) -> Posterior:
    """The posterior given standard deviations (components,): exact, normal."""
    values = np.asarray(sds, dtype=np.float64)
    solution = eliminate(model, values)
    q, p = len(model.penalised), len(model.prior_mean)
    positions = np.concatenate([model.penalised, model.flat])
    # back @ v gives the coefficients: scale the penalised ones, undo F = Q T for the flat ones.
    back = np.diag(solution.scale)
    back[q:, q:] = solve_triangular(model.T, np.eye(len(model.flat)))
    inverse = inverse_of(solution.lower)
    coefficients = model.prior_mean.copy()
    coefficients[positions] += back @ solution.v
    covariance = np.zeros((p, p))
    covariance[np.ix_(positions, positions)] = back @ inverse @ back.T
    KM = solution.gain @ inverse
    absorbed_scale = solution.absorbed_scale
    level_cross = np.zeros((*solution.gain.shape[:2], p))
    level_cross[:, :, positions] = -absorbed_scale[:, None] * (KM @ back.T)
    level_covariances = solution.inverse + KM @ solution.gain.transpose(0, 2, 1)
    level_covariances *= absorbed_scale[:, None] * absorbed_scale
    return Posterior(
        model.component_names, values**2, coefficients, covariance,
        absorbed_scale * solution.a, level_covariances, level_cross, absorbed_scale**2,
    )  # fmt: skip


def predict_rows(
    posterior: Posterior, X: ArrayLike, P: ArrayLike | None = None, levels: ArrayLike | None = None
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance (r,) of the expected value of new rows, residual variance not included.

    X (r, p); P (r, m) and levels (r,) of the absorbed factor, a negative level is one never seen. Without P
    the rows have no level effect at all.
    """
    X, P, levels = _rows(posterior, X, P, levels)
    mean = X @ posterior.coefficients
    variance = np.einsum("ip,ip->i", X @ posterior.covariance, X)
    new = levels < 0
    variance[new] += P[new] ** 2 @ posterior.new_level_variance
    for level in np.unique(levels[~new]):
        rows = levels == level
        x, p = X[rows], P[rows]
        mean[rows] += p @ posterior.level_means[level]
        variance[rows] += np.einsum("im,im->i", p @ posterior.level_covariances[level], p)
        variance[rows] += 2.0 * np.einsum("im,im->i", x @ posterior.level_cross[level].T, p)
    return mean, variance


def predict_joint(
    posterior: Posterior, X: ArrayLike, P: ArrayLike | None = None, levels: ArrayLike | None = None
) -> tuple[FloatArray, FloatArray]:
    """Mean (r,) and whole covariance (r, r) of the expected values; residual variance not included.

    Rows with the same negative level share that new level. At most one known level at a time.
    """
    X, P, levels = _rows(posterior, X, P, levels)
    mean = X @ posterior.coefficients
    covariance = X @ posterior.covariance @ X.T
    for level in np.unique(levels):
        rows = np.flatnonzero(levels == level)
        p = P[rows]
        block = np.ix_(rows, rows)
        if level < 0:
            covariance[block] += (p * posterior.new_level_variance) @ p.T
            continue
        mean[rows] += p @ posterior.level_means[level]
        cross = p @ (posterior.level_cross[level] @ X.T)  # with every row, through the shared coefficients
        covariance[rows] += cross
        covariance[:, rows] += cross.T
        covariance[block] += p @ posterior.level_covariances[level] @ p.T
    if len(np.unique(levels[levels >= 0])) > 1:
        raise ValueError(
            "joint predictions cover one known level at a time: effects of two levels are not stored"
        )
    return mean, covariance


def condition_new_level(
    posterior: Posterior, X: ArrayLike, P: ArrayLike, y: ArrayLike, row_variance: ArrayLike
) -> Posterior:
    """Learn from rows (r,) of one level never seen, in closed form; that level is level 0 of the result.

    row_variance (r,) > 0 is the whole residual variance of each row. Other levels are left out of the result.
    """
    X, P, _ = _rows(posterior, X, P, np.zeros(len(np.asarray(X)), dtype=np.intp), known=False)
    p, m = X.shape[1], P.shape[1]
    rows = np.hstack([X, P])
    mean = np.concatenate([posterior.coefficients, np.zeros(m)])
    prior = np.zeros((p + m, p + m))
    prior[:p, :p] = posterior.covariance
    prior[np.arange(p, p + m), np.arange(p, p + m)] = posterior.new_level_variance
    half = prior @ rows.T
    total = rows @ half + np.diag(np.asarray(row_variance, dtype=np.float64))
    factor = cho_factor(total, lower=True)
    mean = mean + half @ cho_solve(factor, np.asarray(y, dtype=np.float64) - rows @ mean)
    after = prior - half @ cho_solve(factor, half.T)
    return Posterior(
        posterior.component_names, posterior.component_variances, mean[:p], after[:p, :p],
        mean[None, p:], after[None, p:, p:], after[None, p:, :p], posterior.new_level_variance,
    )  # fmt: skip


def _rows(
    posterior: Posterior, X: ArrayLike, P: ArrayLike | None, levels: ArrayLike | None, known: bool = True
) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    X = np.asarray(X, dtype=np.float64)
    m = len(posterior.new_level_variance)
    P = np.zeros((len(X), m)) if P is None else np.asarray(P, dtype=np.float64)
    codes = np.full(len(X), -1, dtype=np.intp) if levels is None else np.asarray(levels, dtype=np.intp)
    if (
        X.ndim != 2
        or X.shape[1] != len(posterior.coefficients)
        or P.shape != (len(X), m)
        or codes.shape != (len(X),)
    ):
        raise ValueError(f"new rows need X (r, {len(posterior.coefficients)}), P (r, {m}) and levels (r,)")
    if known and codes.max(initial=-1) >= len(posterior.level_means):
        raise ValueError(f"levels must be below {len(posterior.level_means)} (negative for a new one)")
    return X, P, codes
