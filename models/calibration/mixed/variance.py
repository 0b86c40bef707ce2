"""Variance components of a linear mixed model: the marginal likelihood and its gradient.

How the pieces are used, in the order of data flow:

    model = mixed_model(                                             # mixed_model.py
        y, X,
        [FixedBlock("intercept", [0]),                               # flat prior
         FixedBlock("log d", [1], mean=0.0, sd=0.05),                # normal prior
         RandomBlock("cord", range(2, 14), LogNormalPrior(0.05, 0.7))],
        absorbed=AbsorbedFactor(levels, P, ["whip", "slot", "slot"], {"whip": LogNormalPrior(0.03, 0.5)}),
        weights=robust_weights, known_variance=caliper_variance, criterion="reml")
    criterion(model, sds), criterion_and_gradient(model, sds)        # here: at any sds, zero included
    fit = estimate(model, start=last_fit.sds)                        # estimation.py: sds and how it went
    posterior = posterior_at(model, fit.sds)                         # posterior.py: coefficients, covariance
    posterior = averaged_posterior(model, draw_sds(model, fit))      # draws.py: over the standard deviations
    mean, variance = predict_rows(posterior, X_new, P_new, levels)   # posterior.py: level -1 was never seen
    posterior = condition_new_level(posterior, X, P, y, variance)    # posterior.py: readings of a new level

`sds` is always a vector in the order of `model.component_names`, sds[0] the residual standard deviation
sigma, in absolute units of y per unit of a column. Rows have variance (sigma^2 + known_i) / weight_i.
A column of a random block that is zero in every row is allowed: its effect keeps its prior, which is how the
effect of a cord or maker never seen gets its variance into a prediction.

The criterion is -2 log of the marginal likelihood ("ml": flat coefficients maximised, "reml": integrated out
with density 1), with all constants, plus ((log s - log median) / log_sd)^2 for every log-normal prior on a
standard deviation (a penalty on log s: the mode is taken there).
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plaitlog.models.calibration.mixed.absorbed import Elimination, eliminate, inverse_of, scaled_sums
from plaitlog.models.calibration.mixed.mixed_model import LinearMixedModel

FloatArray = NDArray[np.float64]


def criterion(model: LinearMixedModel, sds: ArrayLike) -> float:
    """-2 log (restricted) marginal likelihood with prior penalties at sds (components,) >= 0."""
    values = _checked(model, sds)
    return _criterion(model, values, eliminate(model, values))


def criterion_and_gradient(model: LinearMixedModel, sds: ArrayLike) -> tuple[float, FloatArray]:
    """The criterion and its gradient by log sds (components,), which is 0 where the sd is 0."""
    values = _checked(model, sds)
    return value_and_gradient(model, values, eliminate(model, values))


def value_and_gradient(
    model: LinearMixedModel, sds: FloatArray, solution: Elimination
) -> tuple[float, FloatArray]:
    """The criterion and its gradient from a solution at sds already worked out."""
    return _criterion(model, sds, solution), _gradient(model, sds, solution)


def can_profile(model: LinearMixedModel) -> bool:
    """Whether sigma factors out of the row and effect variances: no priors, no known variances."""
    return model.base is not None and not any(model.priors) and bool((model.column_component >= 0).all())


def profiled_residual_sd(model: LinearMixedModel, ratios: ArrayLike) -> float:
    """The sigma that minimises the criterion when every other sd is a fixed multiple of it.

    ratios (components - 1,) >= 0: sd / sigma. Closed form, penalised sum of squares over degrees of freedom
    (Bates et al. 2015, section 3.4), so there must be no prior of any kind and no known row variance.
    """
    if not can_profile(model):
        raise ValueError(
            "the residual sd can only be profiled without priors and without known row variances"
        )
    solution = eliminate(
        model, _checked(model, np.concatenate([[1.0], np.asarray(ratios, dtype=np.float64)]))
    )
    freedom = model.size - (len(model.flat) if model.criterion == "reml" else 0)
    return math.sqrt(solution.quadratic / freedom) if freedom > 0 else 0.0


def _checked(model: LinearMixedModel, sds: ArrayLike) -> FloatArray:
    values = np.asarray(sds, dtype=np.float64)
    if values.shape != (len(model.component_names),) or not (
        np.isfinite(values).all() and (values >= 0).all()
    ):
        raise ValueError(
            f"sds must be one finite number >= 0 for each of {model.component_names}, got {values}"
        )
    if values[0] == 0 and not (model.known_variance > 0).all():
        raise ValueError("the residual standard deviation must be positive where no row variance is known")
    return values


def _criterion(model: LinearMixedModel, sds: FloatArray, solution: Elimination) -> float:
    value = solution.quadratic + solution.log_determinant
    freedom = model.size
    if model.criterion == "reml":
        value += solution.flat_log_determinant
        freedom -= len(model.flat)
    value += freedom * math.log(2.0 * math.pi)
    for sd, prior in zip(sds, model.priors, strict=True):
        if prior is not None:
            value += ((math.log(sd / prior.median)) / prior.log_sd) ** 2 if sd > 0 else math.inf
    return float(value)


def _gradient(model: LinearMixedModel, sds: FloatArray, solution: Elimination) -> FloatArray:
    """By the envelope theorem: only the determinants and the explicit sds move, not the solution.

    For a random component of k unit effects u: 2 (k - |u|^2 - trace of their posterior covariance).
    """
    q = len(model.penalised)
    M = np.zeros_like(solution.lower)  # posterior covariance; with "ml" given the flat coefficients
    if model.criterion == "reml":
        M = inverse_of(solution.lower)
    else:
        M[:q, :q] = inverse_of(solution.lower[:q, :q])
    KM = solution.gain @ M
    diagonal = np.diag(M)[:q]
    absorbed_diagonal = np.einsum("gii->gi", solution.inverse) + np.einsum("gmc,gmc->gm", KM, solution.gain)

    gradient = np.zeros(len(sds))
    known = model.column_component < 0
    part = 1.0 - solution.v[:q] ** 2 - diagonal
    np.add.at(gradient, model.column_component[~known], 2.0 * part[~known])
    np.add.at(gradient, model.absorbed_component, 2.0 * (1.0 - solution.a**2 - absorbed_diagonal).sum(axis=0))
    weight2 = model.repeats * model.precision_weight / solution.row_variance**2
    slope = float(model.repeats @ (1.0 / solution.row_variance) - weight2 @ solution.residuals**2)
    gradient[0] += (
        2.0 * sds[0] ** 2 * (slope - _fit_variance(model, solution, M, KM, diagonal, absorbed_diagonal))
    )
    for k, prior in enumerate(model.priors):
        if prior is not None and sds[k] > 0:
            gradient[k] += 2.0 * math.log(sds[k] / prior.median) / prior.log_sd**2
    return gradient


def _fit_variance(
    model: LinearMixedModel,
    solution: Elimination,
    M: FloatArray,
    KM: FloatArray,
    diagonal: FloatArray,
    absorbed_diagonal: FloatArray,
) -> float:
    """Posterior variance of the fitted rows, summed with weights repeats * precision_weight / variance^2."""
    if model.base is not None:
        flat = len(model.flat) if model.criterion == "reml" else 0
        trace = len(diagonal) - diagonal.sum() + flat + absorbed_diagonal.size - absorbed_diagonal.sum()
        return float(trace) / float(solution.row_variance[0])
    sums = scaled_sums(model, solution.row_variance, 2)
    total = np.sum(M * sums.UU * (solution.scale[:, None] * solution.scale))
    PU = sums.PU * (solution.absorbed_scale[:, None] * solution.scale)
    PP = sums.PP * (solution.absorbed_scale[:, None] * solution.absorbed_scale)
    covariance = solution.inverse + KM @ solution.gain.transpose(0, 2, 1)
    return float(total - 2.0 * np.sum(KM * PU) + np.sum(PP * covariance))
