"""Bounded minimisation of the criterion: average information first, then quasi-Newton from its metric.

Average information steps come near the optimum in a handful of evaluations from anywhere but converge
linearly; BFGS updates of the last information matrix then converge superlinearly, without a line search.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# No step changes a standard deviation by more than a factor e^2: the quadratic model is local.
LONGEST_STEP = 2.0
# Once the model promises less than this many units of -2 log likelihood, the metric is good enough to be
# updated rather than computed anew.
NEAR = 1.0
# Steps in log sd below this do not move any result.
SHORTEST_STEP = 1e-12
MAX_STEPS = 100


@dataclass(frozen=True)
class Point:
    """A place in log sds with the criterion there; `information` is worked out only when asked for."""

    x: FloatArray
    value: float
    gradient: FloatArray
    information: Callable[[], FloatArray]


def minimise(
    evaluate: Callable[[FloatArray], Point],
    start: FloatArray,
    low: FloatArray,
    high: FloatArray,
    may_vanish: BoolArray,
    tolerance: float,
) -> Point:
    """Minimise over low <= x <= high until no entry of the projected gradient exceeds tolerance.

    Components that may vanish go straight to their lower bound when the model points far below. `evaluate`
    returns an infinite value where the criterion cannot be computed; such a step is shortened.
    """
    point = evaluate(np.clip(start, low, high))
    metric, near, damping = point.information(), False, 0.0
    for _ in range(MAX_STEPS):
        moving = ~(((point.x <= low) & (point.gradient >= 0)) | ((point.x >= high) & (point.gradient <= 0)))
        if np.abs(point.gradient[moving]).max(initial=0.0) <= tolerance:
            break
        step = _step(metric, point.gradient, moving, damping)
        vanishing = may_vanish & (step < -LONGEST_STEP) & (damping == 0.0)
        step = np.clip(step, -LONGEST_STEP, LONGEST_STEP)
        near = near or _promise(metric, point.gradient, step) < NEAR
        target = np.where(vanishing, low, np.clip(point.x + step, low, high))
        trial = evaluate(target)
        if np.abs(target - point.x).max() < SHORTEST_STEP:
            break
        if near and np.isfinite(trial.value):
            metric = _bfgs(metric, trial.x - point.x, trial.gradient - point.gradient)
        # Close to the optimum the value is rounding error: there a smaller gradient is progress too.
        rounding = 1e-12 * (1.0 + abs(point.value))
        smaller = np.abs(trial.gradient).max() < np.abs(point.gradient).max()
        if trial.value < point.value - rounding or (trial.value <= point.value + rounding and smaller):
            point, damping = trial, 0.2 * damping if damping > 1e-3 else 0.0
            if not near:
                metric = point.information()
        elif trial.value <= point.value + rounding and damping > 10.0:
            break
        else:
            damping = max(5.0 * damping, 0.1)
    return point


def _step(metric: FloatArray, gradient: FloatArray, moving: BoolArray, damping: float) -> FloatArray:
    """Damped Newton step (Levenberg and Marquardt) in the components that may move."""
    step = np.zeros_like(gradient)
    part = metric[np.ix_(moving, moving)].copy()
    diagonal = np.diag(part).copy()
    # The floor keeps a component without any information from a division by zero; its step is cut anyway.
    part[np.arange(len(part)), np.arange(len(part))] += damping * diagonal + 1e-12 * (
        1.0 + diagonal.max(initial=0.0)
    )
    step[moving] = -np.linalg.solve(part, gradient[moving])
    return step


def _promise(metric: FloatArray, gradient: FloatArray, step: FloatArray) -> float:
    return -float(gradient @ step + 0.5 * step @ metric @ step)


def _bfgs(metric: FloatArray, step: FloatArray, change: FloatArray) -> FloatArray:
    curvature = float(step @ change)
    along = metric @ step
    if curvature <= 0 or step @ along <= 0:
        return metric
    updated: FloatArray = (
        metric - np.outer(along, along) / (step @ along) + np.outer(change, change) / curvature
    )
    return updated
