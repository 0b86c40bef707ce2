"""The shared coefficients from sums alone: standard deviations between cords, posterior, objective.

With the whips eliminated and their standard deviations fixed, the marginal likelihood of the others needs no
reading any more: with A = S M S + I, S the prior standard deviations, M = R'V^-1 R and r = R'V^-1 z about the
prior means, -2 log likelihood is constant - r'S A^-1 S r + log det A (Henderson's mixed model equations).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, lapack, solve_triangular
from scipy.optimize import minimize

from plaitlog.models.calibration.calibrated import ObjectiveSums
from plaitlog.models.calibration.full_pass import Sums
from plaitlog.models.calibration.mixed.draws import draws_about
from plaitlog.models.calibration.mixed.mixed_model import FixedBlock, LogNormalPrior, RandomBlock
from plaitlog.models.calibration.packed import Array

FARTHEST = 6.0
"""How many standard deviations of its prior a log standard deviation is searched away from the median."""


@dataclass(frozen=True)
class ReducedModel:
    """Sums about the prior means, and where each column's standard deviation comes from.

    component (P,): position in ``names``, -1 where the standard deviation is known; known_sd (P,): then that.
    """

    sums: Sums
    mean: Array
    right: Array
    constant: float
    component: NDArray[np.intp]
    known_sd: Array
    names: tuple[str, ...]
    priors: tuple[LogNormalPrior, ...]


@dataclass(frozen=True)
class Solution:
    """At given standard deviations: -2 log likelihood with prior penalties, its gradient by log sds, moments.

    scale (P,): prior standard deviations of the coefficients. fitted : r'S A^-1 S r. log_determinant : of A.
    """

    value: float
    gradient: Array
    coefficients: Array
    covariance: Array
    scale: Array
    fitted: float
    log_determinant: float


def reduced_model(sums: Sums, blocks: Sequence[FixedBlock | RandomBlock]) -> ReducedModel:
    """The model of these sums; every column in exactly one block, none with a flat prior."""
    size = len(sums.right)
    mean, known = np.zeros(size), np.ones(size)
    component = np.full(size, -1, dtype=np.intp)
    names: list[str] = []
    priors: list[LogNormalPrior] = []
    for block in blocks:
        columns = np.asarray(block.columns, dtype=np.intp)
        if isinstance(block, FixedBlock):
            mean[columns], known[columns] = block.mean, block.sd
        else:
            assert block.prior is not None
            component[columns] = len(names)
            names.append(block.name)
            priors.append(block.prior)
    right = sums.right - sums.matrix @ mean
    constant = sums.constant - float(mean @ (sums.right + right))
    return ReducedModel(sums, mean, right, constant, component, known, tuple(names), tuple(priors))


def solve(model: ReducedModel, log_sds: Array) -> Solution:
    """Solve at log standard deviations (components,)."""
    sds = np.exp(log_sds)
    scale = np.where(model.component < 0, model.known_sd, sds[model.component] if len(sds) else 1.0)
    scaled = model.sums.matrix * (scale[:, None] * scale)
    scaled[np.diag_indices_from(scaled)] += 1.0
    lower = cholesky(scaled, lower=True, overwrite_a=True, check_finite=False)
    half = solve_triangular(lower, scale * model.right, lower=True, check_finite=False)
    effects = solve_triangular(lower, half, lower=True, trans="T", check_finite=False)
    inverse, _ = lapack.dpotri(lower, lower=1)
    inverse = np.tril(inverse) + np.tril(inverse, -1).T
    fitted, log_determinant = float(half @ half), 2.0 * float(np.log(np.diag(lower)).sum())
    value, gradient = model.constant - fitted + log_determinant, np.zeros(len(sds))
    known = model.component < 0
    np.add.at(gradient, model.component[~known], 2.0 * (1.0 - effects**2 - np.diag(inverse))[~known])
    for k, prior in enumerate(model.priors):
        away = (log_sds[k] - np.log(prior.median)) / prior.log_sd
        value += float(away**2)
        gradient[k] += 2.0 * away / prior.log_sd
    covariance = inverse * (scale[:, None] * scale)
    coefficients = model.mean + scale * effects
    return Solution(value, gradient, coefficients, covariance, scale, fitted, log_determinant)


def objective_of(model: ReducedModel, solution: Solution) -> ObjectiveSums:
    """The sums from which the value of a solution can be worked out again."""
    determinant = solution.log_determinant - 2.0 * float(np.log(solution.scale).sum())
    return ObjectiveSums(
        matrix=model.sums.matrix + np.diag(solution.scale**-2.0),
        right=model.right,
        constant=solution.value + solution.fitted - determinant,
        value=solution.value,
    )


def mode_of(model: ReducedModel, start: Mapping[str, float]) -> Array:
    """Log standard deviations (components,) at the best value, from ``start`` by component."""
    low, high = bounds(model)
    medians = {name: prior.median for name, prior in zip(model.names, model.priors, strict=True)}
    first = np.log([start.get(name, medians[name]) for name in model.names])

    def value_and_gradient(log_sds: Array) -> tuple[float, Array]:
        solution = solve(model, log_sds)
        return solution.value, solution.gradient

    found: Array = minimize(
        value_and_gradient,
        np.clip(first, low, high),
        jac=True,
        method="L-BFGS-B",
        bounds=list(zip(low, high, strict=True)),
        options={"maxiter": 20, "gtol": 1e-3},
    ).x
    return found


def bounds(model: ReducedModel) -> tuple[Array, Array]:
    middle = np.log([prior.median for prior in model.priors])
    width = FARTHEST * np.array([prior.log_sd for prior in model.priors])
    return middle - width, middle + width


def averaged(model: ReducedModel, mode: Array, size: int) -> tuple[Array, Array, dict[str, float]]:
    """Coefficients (P,), covariance (P, P), mean variance by component, over draws about the mode."""
    solutions: list[Solution] = []

    def value(log_sds: Array) -> float:
        solutions.append(solve(model, log_sds))
        return solutions[-1].value

    draws = draws_about(mode, value, lambda x: solve(model, x).gradient, bounds(model), size)
    origin = solutions[0].coefficients
    shift, second = np.zeros_like(origin), np.zeros_like(model.sums.matrix)
    for one, weight in zip(solutions, draws.weights, strict=True):
        moved = one.coefficients - origin
        shift += weight * moved
        second += weight * (one.covariance + np.outer(moved, moved))
    variances = draws.weights @ draws.sds**2
    covariance = second - np.outer(shift, shift)
    return origin + shift, covariance, dict(zip(model.names, variances.tolist(), strict=True))
