"""Maximum (restricted) likelihood of the standard deviations, with a record of how the search went."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize

from plaitlog.models.calibration.mixed_model import LinearMixedModel
from plaitlog.models.calibration.variance import criterion, criterion_and_gradient
from plaitlog.models.errors import Finding

FloatArray = NDArray[np.float64]

# A component whose rows move by less than this share of the spread of y cannot be told from zero: its effect
# on the criterion is of the order of the share squared. Above the upper share it would explain y many times
# over. The ratio of the bounds, squared, times the number of rows stays below 1 / rounding error, so that the
# equations stay solvable.
SMALLEST_SHARE = 1e-4
LARGEST_SHARE = 30.0
# In units of -2 log likelihood per unit of log sd: far below the 1 or so that a standard error moves it.
GRADIENT_TOLERANCE = 1e-6
# Rounding in a criterion of ordinary size hides gradients below this; a standard error changes it by about 1.
CONVERGED_GRADIENT = 1e-2
# What rounding may change in a criterion of ordinary size.
CRITERION_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Convergence:
    """How the search ended; no findings when all is well."""

    converged: bool
    start: FloatArray  # sds
    evaluations: int
    gradient_norm: float  # largest absolute entry over the components that are not zero
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
    """The criterion in log sds of the free components, the others fixed (at zero); counts its evaluations."""

    def __init__(self, model: LinearMixedModel) -> None:
        self.model = model
        self.evaluations = 0
        self.worst = 0.0

    def __call__(self, log_sds: FloatArray, free: NDArray[np.bool_]) -> tuple[float, FloatArray]:
        self.evaluations += 1
        sds = np.zeros(len(free))
        sds[free] = np.exp(log_sds)
        try:
            value, gradient = criterion_and_gradient(self.model, sds)
        except (
            np.linalg.LinAlgError
        ):  # a step so far out that rounding makes the equations singular: step back
            return self.worst + 1e6, np.zeros(int(free.sum()))
        self.worst = max(self.worst, value)
        return value, gradient[free]


def estimate(model: LinearMixedModel, start: ArrayLike | None = None) -> VarianceFit:
    """Minimise the criterion over the standard deviations; zero is reached exactly where it is the best.

    start: sds (components,) > 0; by default the prior medians, for the others equal shares of the spread.
    A search that ends on the boundary is repeated from a second start, and the better result is kept.
    """
    first = default_start(model, 0.7) if start is None else np.array(start, dtype=np.float64)
    bounds = log_bounds(model)
    objective = _Objective(model)
    fit = _search(objective, first, bounds)
    if not fit.convergence.converged or fit.convergence.singular:
        other = _search(objective, default_start(model, 0.1), bounds)
        if other.criterion < fit.criterion - CRITERION_TOLERANCE * (1.0 + abs(fit.criterion)):
            fit = other
    return fit


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


def default_start(model: LinearMixedModel, share: float) -> FloatArray:
    """Prior medians, and for the others that share of the spread of y, divided equally (in the variance)."""
    units, spread = _units(model)
    count = max(len(units) - 1, 1)
    start = spread * share / math.sqrt(count) / np.where(units > 0, units, 1.0)
    start[0] = spread * math.sqrt(max(1.0 - share**2, 0.1)) if len(units) > 1 else spread
    for k, prior in enumerate(model.priors):
        if prior is not None:
            start[k] = prior.median
    return start


def log_bounds(model: LinearMixedModel) -> list[tuple[float, float]]:
    """Where log sds are searched."""
    units, spread = _units(model)
    bounds = []
    for k, prior in enumerate(model.priors):
        unit = units[k] if units[k] > 0 else 1.0
        low, high = math.log(spread * SMALLEST_SHARE / unit), math.log(spread * LARGEST_SHARE / unit)
        if prior is not None:  # never cut off what a prior holds likely
            low = min(low, math.log(prior.median) - 6.0 * prior.log_sd)
            high = max(high, math.log(prior.median) + 6.0 * prior.log_sd)
        bounds.append((low, high))
    return bounds


def _search(objective: _Objective, start: FloatArray, bounds: list[tuple[float, float]]) -> VarianceFit:
    model, names = objective.model, objective.model.component_names
    low, high = np.array(bounds).T
    free = np.ones(len(start), dtype=bool)
    log_sds = np.clip(np.log(start), low, high)
    before = objective.evaluations
    for _ in range(len(start) + 1):  # every round settles at least one component
        log_sds[free] = _descend(objective, log_sds[free], free, low[free], high[free])
        changed = _settle_zeros(objective, log_sds, free, low)
        if not changed:
            break
    sds = np.where(free, np.exp(log_sds), 0.0)
    value, gradient = criterion_and_gradient(model, sds)
    norm = float(np.abs(gradient[free]).max(initial=0.0))
    at_bound = free & ((log_sds <= low + 1e-9) | (log_sds >= high - 1e-9))
    inside = float(np.abs(gradient[free & ~at_bound]).max(initial=0.0))
    findings = [
        Finding(
            "component-at-bound", f"its standard deviation ran to its bound, {sds[k]:.3g}", where=names[k]
        )
        for k in np.flatnonzero(at_bound)
    ]
    converged = inside <= CONVERGED_GRADIENT
    if not converged:
        findings.append(
            Finding(
                "not-converged",
                f"the search for the standard deviations stopped where the gradient is still {inside:.2g}",
                "more readings, or fewer effects that only few readings tell apart",
            )
        )
    singular = tuple(names[k] for k in np.flatnonzero(~free))
    record = Convergence(converged, start, objective.evaluations - before, norm, singular, tuple(findings))
    return VarianceFit(names, sds, value, gradient, record)


def _descend(
    objective: _Objective, x: FloatArray, free: NDArray[np.bool_], low: FloatArray, high: FloatArray
) -> FloatArray:
    result = minimize(
        objective, x, args=(free,), jac=True, method="L-BFGS-B", bounds=list(zip(low, high, strict=True)),
        options={"gtol": GRADIENT_TOLERANCE, "ftol": 1e-15, "maxiter": 200, "maxcor": 20},
    )  # fmt: skip
    found: FloatArray = result.x
    return found


def _settle_zeros(
    objective: _Objective, log_sds: FloatArray, free: NDArray[np.bool_], low: FloatArray
) -> bool:
    """Move components to zero where the criterion is no worse there, and free those wrongly there."""
    model = objective.model
    sds = np.where(free, np.exp(log_sds), 0.0)
    value = criterion(model, sds)
    changed = False
    for k in np.flatnonzero(free)[::-1]:
        if k == 0 or model.priors[k] is not None or log_sds[k] > low[k] + math.log(1e3):
            continue
        trial = sds.copy()
        trial[k] = 0.0
        at_zero = criterion(model, trial)
        if at_zero <= value + CRITERION_TOLERANCE * (1.0 + abs(value)):
            sds, value, free[k], changed = trial, at_zero, False, True
    return changed
