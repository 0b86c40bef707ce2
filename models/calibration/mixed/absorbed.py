"""The penalised least squares problem of a mixed model at given standard deviations, solved by elimination.

With coefficients b = S v the random effects v have unit variance, so a standard deviation of exactly zero is
an ordinary value. The absorbed factor is eliminated level by level (its matrix is block diagonal), what
remains is one dense Cholesky factor: Henderson's mixed model equations as in Bates, Maechler, Bolker & Walker
(2015), J. Stat. Softw. 67(1), section 3, there with a sparse factor.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve, solve_triangular

from plaitlog.models.calibration.mixed.mixed_model import LinearMixedModel
from plaitlog.models.calibration.mixed.sums import Sums, level_sums, weighted_sums

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Elimination:
    """Solution at one set of standard deviations; everything in units of the scaled effects v and a."""

    row_variance: FloatArray  # (n,) sigma^2 + known, before the precision weight
    scale: FloatArray  # (c,) S: sd of a penalised column, 1 for a flat one
    absorbed_scale: FloatArray  # (m,)
    sums: Sums  # at row weight repeats * precision_weight / row_variance
    inverse: FloatArray  # (L, m, m) inverse of I + S P'WP S per level
    gain: FloatArray  # (L, m, c) that inverse times S P'WU S
    lower: FloatArray  # (c, c) Cholesky factor of the remaining equations
    v: FloatArray  # (c,)
    a: FloatArray  # (L, m)
    residuals: FloatArray  # (n,)
    quadratic: float  # penalised weighted sum of squares
    log_determinant: float  # rows, absorbed and penalised effects
    flat_log_determinant: float  # of the flat columns, in the caller's columns


def scaled_sums(model: LinearMixedModel, row_variance: FloatArray, power: int) -> Sums:
    """Sums with row weight repeats * precision_weight / row_variance ** power."""
    if model.base is None:
        weight = model.repeats * model.precision_weight / row_variance**power
        return weighted_sums(model.U, model.P, model.y, model.starts, weight)
    factor = 1.0 / float(row_variance[0]) ** power
    base = model.base
    return Sums(base.UU * factor, base.Uy * factor, base.PP * factor, base.PU * factor, base.Py * factor)


def eliminate(model: LinearMixedModel, sds: FloatArray) -> Elimination:
    """Solve at sds (components,). Raises numpy.linalg.LinAlgError where the equations are singular."""
    row_variance: FloatArray = sds[0] ** 2 + model.known_variance
    q, m, level_count = len(model.penalised), len(model.absorbed_component), model.level_count
    scale: FloatArray = np.ones(model.U.shape[1])
    known = model.column_component < 0
    scale[:q] = np.where(known, model.column_sd, sds[np.where(known, 0, model.column_component)])
    absorbed_scale: FloatArray = sds[model.absorbed_component]
    sums = scaled_sums(model, row_variance, 1)

    C = sums.UU * (scale[:, None] * scale)
    C[np.arange(q), np.arange(q)] += 1.0
    A = sums.PP * (absorbed_scale[:, None] * absorbed_scale) + np.eye(m)
    L = cholesky(A)
    B = sums.PU * (absorbed_scale[:, None] * scale)
    root_inverse = np.linalg.inv(L) if m else L  # m is small and A >= I: the inverse is as good as a solve
    half = root_inverse @ B
    flat_half = half.reshape(level_count * m, len(scale))
    C -= flat_half.T @ flat_half

    lower = cholesky(C)
    transposed = root_inverse.transpose(0, 2, 1)
    inverse = transposed @ root_inverse
    gain: FloatArray = transposed @ half
    v, a = _solve(lower, inverse, gain, sums.Uy * scale, sums.Py * absorbed_scale)
    weight = model.repeats * model.precision_weight / row_variance
    # One step of refinement with residuals taken from the rows makes up for what the cross products lost.
    residuals = _residuals(model, scale * v, absorbed_scale * a)
    right, right_a = scale * (model.U.T @ (weight * residuals)), -a
    right[:q] -= v[:q]
    if m:
        right_a += absorbed_scale * level_sums(model.P * (weight * residuals)[:, None], model.starts)
    v_step, a_step = _solve(lower, inverse, gain, right, right_a)
    v, a = v + v_step, a + a_step
    residuals = _residuals(model, scale * v, absorbed_scale * a)
    quadratic = float(weight @ residuals**2 + v[:q] @ v[:q] + (a * a).sum())
    diagonal = np.log(np.diag(lower))
    log_determinant = float(
        model.repeats @ np.log(row_variance / model.precision_weight)
        + 2.0 * np.log(np.einsum("gii->gi", L)).sum()
        + 2.0 * diagonal[:q].sum()
    )
    flat_log_determinant = float(2.0 * diagonal[q:].sum() + 2.0 * np.log(np.abs(np.diag(model.T))).sum())
    return Elimination(
        row_variance, scale, absorbed_scale, sums, inverse, gain, lower, v, a,
        residuals, quadratic, log_determinant, flat_log_determinant,
    )  # fmt: skip


def _solve(
    lower: FloatArray, inverse: FloatArray, gain: FloatArray, right: FloatArray, right_a: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Effects v (c,) and a (L, m) for right-hand sides of the dense and of the absorbed equations."""
    v: FloatArray = cho_solve((lower, True), right - np.einsum("gmc,gm->c", gain, right_a))
    a: FloatArray = (inverse @ right_a[:, :, None])[:, :, 0] - gain @ v
    return v, a


def _residuals(model: LinearMixedModel, coefficients: FloatArray, effects: FloatArray) -> FloatArray:
    residuals: FloatArray = model.y - model.U @ coefficients
    if effects.size:
        residuals -= np.einsum("im,im->i", model.P, effects[model.levels])
    return residuals


def cholesky(matrix: FloatArray) -> FloatArray:
    """Lower Cholesky factors (..., k, k); an empty stack is allowed."""
    return np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)


def inverse_of(lower: FloatArray) -> FloatArray:
    """(L L')^-1 from a lower Cholesky factor."""
    root = solve_triangular(lower, np.eye(len(lower)), lower=True)
    inverse: FloatArray = root.T @ root
    return inverse
