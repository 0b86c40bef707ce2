"""Maximum (restricted) likelihood of the standard deviations, with a record of how the search went."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plaitlog.models.calibration.mixed.absorbed import eliminate
from plaitlog.models.calibration.mixed.information import average_information
from plaitlog.models.calibration.mixed.mixed_model import LinearMixedModel
from plaitlog.models.calibration.mixed.search import Point, minimise
from plaitlog.models.calibration.mixed.variance import (
    can_profile,
    criterion,
    criterion_and_gradient,
    profiled_residual_sd,
    value_and_gradient,
)
from plaitlog.models.errors import Finding

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# A component whose rows move by less than this share of the spread of y cannot be told from zero: its effect
# on the criterion is of the order of the share squared. Above the upper share it would explain y many times
# over. The ratio of the bounds, squared, times the number of rows stays below 1 / rounding error, so that the
# equations stay solvable.
SMALLEST_SHARE = 1e-4
LARGEST_SHARE = 30.0
# In units of -2 log likelihood per unit of log sd; a standard error changes it by about 1.
GRADIENT_TOLERANCE = 1e-7
# Rounding in large sums can hide smaller gradients; the estimate is then still good to 1e-2 standard errors.
CONVERGED_GRADIENT = 1e-2
# Information about a log sd below which the rows say nothing about it (a standard error of 30 in the log).
UNINFORMED = 1e-3
# What rounding may change in a criterion of size 1.
CRITERION_TOLERANCE = 1e-11


@dataclass(frozen=True)
class Convergence:
    """How the search ended; no findings when all is well."""

    converged: bool
    start: FloatArray  # sds
    evaluations: int  # of criterion and gradient
    gradient_norm: float  # largest absolute entry over the components inside their bounds
    singular: tuple[str, ...]  # components estimated as zero
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class VarianceFit:
    component_names: tuple[str, ...]
    sds: FloatArray  # (components,)
    criterion: float
    gradient: FloatArray  # (components,) with respect to log sds
    convergence: Convergence


class _Objective:
    """The criterion in log sds of the free components, the others zero; counts its evaluations."""

    def __init__(self, model: LinearMixedModel) -> None:
        self.model = model
        self.evaluations = 0

    def at(self, log_sds: FloatArray, free: BoolArray) -> Point:
        self.evaluations += 1
        sds = np.zeros(len(free))
        sds[free] = np.exp(log_sds)
        try:
            solution = eliminate(self.model, sds)
        except np.linalg.LinAlgError:  # so far out that rounding makes the equations singular
            return Point(log_sds, math.inf, np.zeros_like(log_sds), lambda: np.eye(len(log_sds)))
        value, gradient = value_and_gradient(self.model, sds, solution)

        def information() -> FloatArray:
            return average_information(self.model, sds, solution)[np.ix_(free, free)]

        return Point(log_sds, value, gradient[free], information)


def estimate(model: LinearMixedModel, start: ArrayLike | None = None) -> VarianceFit:
    """Minimise the criterion over the standard deviations; zero is reached exactly where it is the best.

    start: sds (components,); where it is zero or not given, the prior median or an equal share of the spread.
    A search that ends on the boundary is repeated from a second start, and the better result is kept.
    """
    first = default_start(model, 0.7)
    if start is not None:
        given = np.asarray(start, dtype=np.float64)
        first = np.where(given > 0, given, first)
    fit = search_from(model, first)
    if fit.convergence.converged and not fit.convergence.singular:
        return fit
    other = search_from(model, default_start(model, 0.1))
    better = other.criterion < fit.criterion - CRITERION_TOLERANCE * (1.0 + abs(fit.criterion))
    evaluations = fit.convergence.evaluations + other.convergence.evaluations
    best = other if better else fit
    return replace(best, convergence=replace(best.convergence, evaluations=evaluations))


def default_start(model: LinearMixedModel, share: float) -> FloatArray:
    """Prior medians, and for the others that share of the spread of y, divided equally (in the variance)."""
    units, spread = _units(model)
    count = max(len(units) - 1, 1)
    start = spread * share / math.sqrt(count) / np.where(units > 0, units, 1.0)
    start[0] = spread * math.sqrt(1.0 - share**2)
    if can_profile(model):
        start[0] = max(profiled_residual_sd(model, start[1:] / start[0]), SMALLEST_SHARE * spread)
    for k, prior in enumerate(model.priors):
        if prior is not None:
            start[k] = prior.median
    return start


def log_bounds(model: LinearMixedModel) -> tuple[FloatArray, FloatArray]:
    """Where log sds (components,) are searched."""
    units, spread = _units(model)
    middle = np.log(spread / np.where(units > 0, units, 1.0))
    low, high = middle + math.log(SMALLEST_SHARE), middle + math.log(LARGEST_SHARE)
    for k, prior in enumerate(model.priors):
        if prior is not None:  # never cut off what a prior holds likely
            low[k] = min(low[k], math.log(prior.median) - 6.0 * prior.log_sd)
            high[k] = max(high[k], math.log(prior.median) + 6.0 * prior.log_sd)
    return low, high


def _units(model: LinearMixedModel) -> tuple[FloatArray, float]:
    """Root mean square by which rows move per unit of each sd, and the spread of y about its flat columns."""
    weight = model.repeats / model.repeats.sum()
    q = len(model.penalised)
    squares = np.zeros(len(model.component_names))
    known = model.column_component < 0
    np.add.at(squares, model.column_component[~known], (weight @ model.U[:, :q] ** 2)[~known])
    np.add.at(squares, model.absorbed_component, weight @ model.P**2)
    squares[0] = 1.0
    Q = model.U[:, q:]
    rest = model.y - Q @ (Q.T @ (model.repeats * model.precision_weight * model.y))
    spread = math.sqrt(float(weight @ rest**2))
    # A y that its flat columns explain entirely has no spread but its own rounding error.
    floor = 1e-10 * float(np.abs(model.y).max())
    return np.sqrt(squares), max(spread, floor) or 1.0


def search_from(model: LinearMixedModel, start: FloatArray) -> VarianceFit:
    """One search from sds (components,) > 0."""
    objective = _Objective(model)
    low, high = log_bounds(model)
    may_vanish = np.array([prior is None for prior in model.priors])
    may_vanish[0] = False
    free = np.ones(len(start), dtype=bool)
    log_sds = np.clip(np.log(start), low, high)
    for _ in start:  # every round but the last settles a component
        point = minimise(
            lambda x: objective.at(x, free),
            log_sds[free], low[free], high[free], may_vanish[free], GRADIENT_TOLERANCE,
        )  # fmt: skip
        log_sds[free] = point.x
        candidates = free & may_vanish & (log_sds < low - math.log(SMALLEST_SHARE) + math.log(0.1))
        candidates[free] |= may_vanish[free] & (np.diag(point.information()) < UNINFORMED)
        if not _settle(model, log_sds, free, candidates):
            break
    return _result(objective, start, log_sds, free)


def _settle(model: LinearMixedModel, log_sds: FloatArray, free: BoolArray, candidates: BoolArray) -> bool:
    """Set candidates to zero where the criterion is no worse there; true if any was."""
    sds = np.where(free, np.exp(log_sds), 0.0)
    value = criterion(model, sds)
    changed = False
    for k in np.flatnonzero(candidates):
        trial = sds.copy()
        trial[k] = 0.0
        at_zero = criterion(model, trial)
        if at_zero <= value + CRITERION_TOLERANCE * (1.0 + abs(value)):
            sds, value, free[k], changed = trial, at_zero, False, True
    return changed


def _result(objective: _Objective, start: FloatArray, log_sds: FloatArray, free: BoolArray) -> VarianceFit:
    model, names = objective.model, objective.model.component_names
    low, high = log_bounds(model)
    sds = np.where(free, np.exp(log_sds), 0.0)
    value, gradient = criterion_and_gradient(model, sds)
    at_bound = free & ((log_sds <= low) | (log_sds >= high))
    norm = float(np.abs(gradient[free & ~at_bound]).max(initial=0.0))
    findings = [
        Finding(
            "component-at-bound", f"its standard deviation ran to its bound, {sds[k]:.3g}", where=names[k]
        )
        for k in np.flatnonzero(at_bound)
    ]
    if model.size <= len(model.flat):
        findings.append(
            Finding(
                "saturated",
                f"{model.size:g} rows for {len(model.flat)} free coefficients leave no scatter to estimate",
                "more readings, or priors on the coefficients",
            )
        )
    if norm > CONVERGED_GRADIENT:
        findings.append(
            Finding(
                "not-converged",
                f"the search for the standard deviations stopped where the gradient is still {norm:.2g}",
                "more readings, or fewer effects that only few readings tell apart",
            )
        )
    singular = tuple(names[k] for k in np.flatnonzero(~free))
    record = Convergence(
        norm <= CONVERGED_GRADIENT, start, objective.evaluations, norm, singular, tuple(findings)
    )
    return VarianceFit(names, sds, value, gradient, record)
