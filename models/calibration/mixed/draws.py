"""Averaging over the standard deviations: a few deterministic draws around their mode, weighted.

With few levels an estimated standard deviation is uncertain by a factor, and predictions that take it for
known are too sure of themselves. The posterior of the log standard deviations is approximated by a normal at
its mode (Laplace), the draws are points of a low-discrepancy sequence in it, and importance weights from the
criterion correct its shape.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import ndtri

from plaitlog.models.calibration.mixed.estimation import VarianceFit, default_start, log_bounds
from plaitlog.models.calibration.mixed.mixed_model import LinearMixedModel
from plaitlog.models.calibration.mixed.posterior import Posterior, posterior_at
from plaitlog.models.calibration.mixed.variance import criterion, criterion_and_gradient

FloatArray = NDArray[np.float64]

# Step in log sd of the differences of the gradient: its curvature changes over about 1, its rounding is 1e-8.
HESSIAN_STEP = 1e-3
# The widest scatter of the draws in any direction of log sd (a factor of e): flatter directions are hardly
# informed by the rows, and a normal in log sd is no description of them.
WIDEST = 1.0


@dataclass(frozen=True)
class Draws:
    """sds (d, components) with weights (d,) that sum to 1; `effective` = 1 / sum of squared weights."""

    sds: FloatArray
    weights: FloatArray

    @property
    def effective(self) -> float:
        return float(1.0 / (self.weights**2).sum())


def draw_sds(model: LinearMixedModel, fit: VarianceFit, size: int = 16) -> Draws:
    """Deterministic draws from the posterior of the standard deviations; size is even.

    A component with a log-normal prior keeps it. One without gets a flat prior on the standard deviation
    itself (Gelman 2006, Bayesian Analysis 1(3): proper from three levels on), which leaves mass near zero and
    moves the mode off it; the residual one gets a flat prior on its logarithm.
    """
    flat = np.array([prior is None for prior in model.priors])
    flat[0] = False
    low, high = log_bounds(model)
    mode = _mode(model, fit, flat, low, high)

    def value(point: FloatArray) -> float:
        return criterion(model, np.exp(point)) - 2.0 * float(point @ flat)

    def gradient(point: FloatArray) -> FloatArray:
        return _target(point, model, flat)[1]

    return draws_about(mode, value, gradient, (low, high), size)


def draws_about(
    mode: FloatArray,
    value: Callable[[FloatArray], float],
    gradient: Callable[[FloatArray], FloatArray],
    bounds: tuple[FloatArray, FloatArray],
    size: int,
) -> Draws:
    """Draws about the mode (components,) of a density of log sds; value is -2 log density, with gradient."""
    if size < 2 or size % 2:
        raise ValueError(f"size must be even and at least 2, got {size}")
    deviation = _spread(mode, gradient)
    z = _normal_points(size, len(mode))
    points = np.clip(mode + z @ deviation.T, *bounds)
    log_weight = np.array([-0.5 * value(point) for point in points]) + 0.5 * (z**2).sum(axis=1)
    weight = np.exp(log_weight - log_weight.max())
    # Truncated importance sampling (Ionides 2008, J. Comput. Graph. Stat. 17(2)): no draw rules alone.
    weight = np.minimum(weight, math.sqrt(size) * weight.mean())
    return Draws(np.exp(points), weight / weight.sum())


def averaged_posterior(model: LinearMixedModel, draws: Draws) -> Posterior:
    """First two moments of the mixture of the posteriors at every draw."""
    origin = posterior_at(model, draws.sds[0])
    shift, level_shift = np.zeros_like(origin.coefficients), np.zeros_like(origin.level_means)
    covariance, cross = np.zeros_like(origin.covariance), np.zeros_like(origin.level_cross)
    level_covariances = np.zeros_like(origin.level_covariances)
    for sds, weight in zip(draws.sds, draws.weights, strict=True):
        one = posterior_at(model, sds)
        b, a = one.coefficients - origin.coefficients, one.level_means - origin.level_means
        shift += weight * b
        level_shift += weight * a
        covariance += weight * (one.covariance + np.outer(b, b))
        cross += weight * (one.level_cross + a[:, :, None] * b)
        level_covariances += weight * (one.level_covariances + a[:, :, None] * a[:, None, :])
    variances = draws.weights @ draws.sds**2
    return replace(
        origin,
        component_variances=variances,
        coefficients=origin.coefficients + shift,
        covariance=covariance - np.outer(shift, shift),
        level_means=origin.level_means + level_shift,
        level_covariances=level_covariances - level_shift[:, :, None] * level_shift[:, None, :],
        level_cross=cross - level_shift[:, :, None] * shift,
        new_level_variance=variances[model.absorbed_component],
    )


def _target(point: FloatArray, model: LinearMixedModel, flat: NDArray[np.bool_]) -> tuple[float, FloatArray]:
    """-2 log posterior density in log sd, and its gradient."""
    value, gradient = criterion_and_gradient(model, np.exp(point))
    return value - 2.0 * float(point @ flat), gradient - 2.0 * flat


def _mode(
    model: LinearMixedModel, fit: VarianceFit, flat: NDArray[np.bool_], low: FloatArray, high: FloatArray
) -> FloatArray:
    start = np.log(np.where(fit.sds > 0, fit.sds, default_start(model, 0.1)))
    if not flat.any():
        return start
    bounds = list(zip(low, high, strict=True))
    found: FloatArray = minimize(
        _target,
        start,
        args=(model, flat),
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": 50},
    ).x
    return found


def _spread(mode: FloatArray, gradient: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Symmetric square root of the covariance of the normal approximation, clipped to WIDEST."""
    centre = gradient(mode)
    steps = np.eye(len(mode)) * HESSIAN_STEP
    hessian = np.array([gradient(mode + step) - centre for step in steps]) / HESSIAN_STEP
    values, vectors = np.linalg.eigh(0.25 * (hessian + hessian.T))
    deviation = 1.0 / np.sqrt(np.maximum(values, WIDEST**-2))
    root: FloatArray = (vectors * deviation) @ vectors.T
    return root


def _normal_points(size: int, dimension: int) -> FloatArray:
    """(size, dimension) points of unit variance in every coordinate, each with its mirror image.

    An additive recurrence with powers of the generalised golden ratio (Roberts 2018), through the normal
    quantile.
    """
    ratio = 2.0
    for _ in range(60):  # the root of x ** (dimension + 1) = x + 1
        ratio = (1.0 + ratio) ** (1.0 / (dimension + 1))
    step = ratio ** -np.arange(1.0, dimension + 1)
    half = ndtri((0.5 + np.arange(1, size // 2 + 1)[:, None] * step) % 1.0)
    half /= np.sqrt((half**2).mean(axis=0))
    return np.vstack([half, -half])
