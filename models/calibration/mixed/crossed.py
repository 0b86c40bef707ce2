"""Crossed random intercepts at any number of rows: everything the likelihood needs is in sums.

    y_i = x_i'b + sum over factors of u[factor, level_i] + w[level_i] + e_i

One factor, the one with most levels, is *absorbed*. The rows of a level of size n have the precision
(I - d 11') / sigma^2 with d = s^2 / (sigma^2 + n s^2), so all levels of one size share d: one matrix of
sums for each size that occurs makes an evaluation of the likelihood independent of the number of rows and of
levels. What remains are Henderson's mixed model equations of the other factors (Bates, Maechler, Bolker &
Walker 2015, J. Stat. Softw. 67(1), section 3).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import cho_solve, lapack
from scipy.sparse import csr_array, hstack
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.mixed.mixed_model import RESIDUAL, Criterion
from plaitlog.models.calibration.mixed.search import Point, minimise

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

ABSORBED = "absorbed"
LOWEST = 1e-5
"""Share of the spread of y below which no standard deviation is searched."""
NO_SPREAD = 1e-10
"""Spread of y about its fixed part, over its largest value, that is rounding error."""
HESSIAN_STEP = 1e-4
"""Step in log sd of the differences of the gradient that polish the optimum."""
CONVERGED_GRADIENT = 1e-3
"""In units of -2 log likelihood per unit of log sd; a standard error changes it by about 1."""


@dataclass(frozen=True, eq=False)
class CrossedSums:
    """Columns are the levels of the factors (q), then an orthonormal basis of X (f); c = q + f.

    UU (c, c), Uy (c,), yy: plain sums over rows. sizes (k,) of absorbed levels, counts (k,) of levels of
    each; GG (k, c, c), Gy (k, c), GGy (k,): sums over the levels of one size of products of sums within the
    level. component (q,): factor of a column. T (f, f): X = Q T.
    """

    names: tuple[str, ...]
    component: IntArray
    rows: int
    UU: FloatArray
    Uy: FloatArray
    yy: float
    sizes: FloatArray
    counts: FloatArray
    GG: FloatArray
    Gy: FloatArray
    GGy: FloatArray
    T: FloatArray
    spread: float


@dataclass(frozen=True, eq=False)
class CrossedFit:
    """standard_deviations by component ("residual", the factors, "absorbed"); criterion: -2 log likelihood.

    coefficients (f,) of X with covariance (f, f); effects: of each factor by level. singular: components
    estimated as zero. gradient_norm: by log sd, over the components that are not.
    """

    standard_deviations: dict[str, float]
    criterion: float
    coefficients: FloatArray
    covariance: FloatArray
    effects: dict[str, FloatArray]
    singular: tuple[str, ...]
    gradient_norm: float
    converged: bool


def crossed_sums(
    y: ArrayLike, X: ArrayLike, factors: Mapping[str, ArrayLike], absorbed: ArrayLike | None = None
) -> CrossedSums:
    """Sums of a model; y (n,), X (n, f) of full rank, each factor (n,) codes 0 .. levels - 1.

    Raises ValueError where lengths differ, a number is not finite, or X has not full rank.
    """
    response = np.asarray(y, dtype=np.float64)
    fixed = np.asarray(X, dtype=np.float64)
    n = len(response)
    codes = [np.asarray(factor, dtype=np.intp) for factor in factors.values()]
    if fixed.ndim != 2 or len(fixed) != n or any(len(code) != n for code in codes):
        raise ValueError("y, X and every factor need one entry for each row")
    if not (np.isfinite(response).all() and np.isfinite(fixed).all()):
        raise ValueError("y and X must be finite")
    Q, T = np.linalg.qr(fixed)
    if (np.abs(np.diag(T)) <= n * np.finfo(np.float64).eps * np.abs(T).max(initial=0.0)).any():
        raise ValueError("the columns of X depend on each other")
    # About its own fixed part y loses no digits in the sums; the coefficients get that part back.
    rest = response - Q @ (Q.T @ response)
    levels = [int(code.max(initial=-1)) + 1 for code in codes]
    dummies = [
        csr_array((np.ones(n), code, np.arange(n + 1)), shape=(n, count))
        for code, count in zip(codes, levels, strict=True)
    ]
    U = hstack([*dummies, csr_array(Q)], format="csr")
    groups = np.zeros(n, dtype=np.intp) if absorbed is None else np.asarray(absorbed, dtype=np.intp)
    sizes, counts, GG, Gy, GGy = _by_size(U, rest, groups, absorbed is not None)
    return CrossedSums(
        names=tuple(factors),
        component=np.repeat(np.arange(len(levels)), levels),
        rows=n,
        UU=(U.T @ U).toarray(),
        Uy=U.T @ rest,
        yy=float(rest @ rest),
        sizes=sizes,
        counts=counts,
        GG=GG,
        Gy=Gy,
        GGy=GGy,
        T=T,
        spread=math.sqrt(float(rest @ rest) / n),
    )


def _by_size(
    U: csr_array, y: FloatArray, groups: IntArray, there: bool
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    columns = U.shape[1]
    if not there:
        empty = np.zeros(0)
        return empty, empty, np.zeros((0, columns, columns)), np.zeros((0, columns)), empty
    size_of = np.bincount(groups)
    order = np.argsort(groups, kind="stable")
    starts = np.concatenate([[0], np.cumsum(size_of)])
    indicator = csr_array((np.ones(len(y)), order, starts), shape=(len(size_of), len(y)))
    PU, Py = (indicator @ U).tocsr(), indicator @ y
    sizes = np.unique(size_of[size_of > 0])
    GG, Gy = np.zeros((len(sizes), columns, columns)), np.zeros((len(sizes), columns))
    GGy, counts = np.zeros(len(sizes)), np.zeros(len(sizes))
    for k, size in enumerate(sizes):
        alike = np.flatnonzero(size_of == size)
        part = PU[alike]
        GG[k] = (part.T @ part).toarray()
        Gy[k], GGy[k], counts[k] = part.T @ Py[alike], float(Py[alike] @ Py[alike]), len(alike)
    return sizes.astype(np.float64), counts, GG, Gy, GGy


@dataclass(frozen=True, eq=False)
class _Point:
    value: float
    gradient: FloatArray
    solution: FloatArray  # (c,) effects and coefficients
    covariance: FloatArray  # (c, c)


def crossed_criterion(
    sums: CrossedSums, sds: Sequence[float] | FloatArray, criterion: Criterion = "ml"
) -> tuple[float, FloatArray]:
    """-2 log (restricted) likelihood and its gradient by log sds, sds in the order of ``component_names``."""
    point = _at(sums, np.asarray(sds, dtype=np.float64), criterion)
    return point.value, point.gradient


def component_names(sums: CrossedSums) -> tuple[str, ...]:
    """The residual, the factors, and the absorbed factor where there is one."""
    return (RESIDUAL, *sums.names, *((ABSORBED,) if len(sums.sizes) else ()))


def _at(sums: CrossedSums, sds: FloatArray, criterion: Criterion) -> _Point:
    q, c = len(sums.component), len(sums.Uy)
    sigma2 = float(sds[0] ** 2)
    s2 = float(sds[-1] ** 2) if len(sums.sizes) else 0.0
    shrink = s2 / (sigma2 + sums.sizes * s2)
    M = (sums.UU - np.tensordot(shrink, sums.GG, 1)) / sigma2
    r = (sums.Uy - shrink @ sums.Gy) / sigma2
    quadratic = (sums.yy - float(shrink @ sums.GGy)) / sigma2
    scale = np.ones(c)
    scale[:q] = sds[1 + sums.component]
    A = M * (scale[:, None] * scale)
    A[np.arange(q), np.arange(q)] += 1.0
    lower = np.linalg.cholesky(A)
    v = cho_solve((lower, True), scale * r)
    b = scale * v
    log_diagonal = np.log(np.diag(lower))
    restricted = criterion == "reml"
    value = quadratic - float(r @ b) + 2.0 * float(log_diagonal[: c if restricted else q].sum())
    value += sums.rows * math.log(sigma2) + float(sums.counts @ np.log1p(sums.sizes * s2 / sigma2))
    value += (sums.rows - (c - q if restricted else 0)) * math.log(2.0 * math.pi)
    if restricted:
        value += 2.0 * float(np.log(np.abs(np.diag(sums.T))).sum())
    # Posterior covariance of the scaled effects; for "ml" given the coefficients of X.
    inverse = np.zeros((c, c))
    size = c if restricted else q
    if size:
        part, _ = lapack.dpotri(lower[:size, :size], lower=1)
        inverse[:size, :size] = np.tril(part) + np.tril(part, -1).T
    gradient = np.zeros(len(sds))
    np.add.at(gradient, 1 + sums.component, 2.0 * (1.0 - v[:q] ** 2 - np.diag(inverse)[:q]))
    C = inverse * (scale[:, None] * scale) + np.outer(b, b)  # second moments of the effects
    pull = 2.0 * sigma2 * s2 / (sigma2 + sums.sizes * s2) ** 2  # d shrink / d log s
    within = np.tensordot(sums.GG, C, 2) - 2.0 * sums.Gy @ b + sums.GGy
    share = sums.sizes * s2 / (sigma2 + sums.sizes * s2)
    by_absorbed = -float(pull @ within) / sigma2 + 2.0 * float(sums.counts @ share)
    everything = float(np.sum(M * C)) - 2.0 * float(r @ b) + quadratic
    gradient[0] = -2.0 * everything + 2.0 * sums.rows - by_absorbed
    if len(sums.sizes):
        gradient[-1] = by_absorbed
    return _Point(value, gradient, b, C - np.outer(b, b))


def fit_crossed(
    y: ArrayLike,
    X: ArrayLike,
    factors: Mapping[str, ArrayLike],
    absorbed: ArrayLike | None = None,
    *,
    criterion: Criterion = "ml",
) -> CrossedFit:
    """Maximum (restricted) likelihood; arguments as of ``crossed_sums``."""
    # One thread: on a busy machine several of them wait for each other at every small product.
    with threadpool_limits(1):
        return _fitted(y, X, factors, absorbed, criterion)


def _fitted(
    y: ArrayLike,
    X: ArrayLike,
    factors: Mapping[str, ArrayLike],
    absorbed: ArrayLike | None,
    criterion: Criterion,
) -> CrossedFit:
    sums = crossed_sums(y, X, factors, absorbed)
    names = component_names(sums)
    if sums.spread <= NO_SPREAD * float(np.abs(np.asarray(y)).max()):
        raise ValueError("y has no spread about its fixed part: there is no variance to part")
    lowest = math.log(LOWEST * sums.spread)
    start = np.full(len(names), math.log(sums.spread / math.sqrt(len(names))))
    free = np.ones(len(names), dtype=bool)
    log_sds = _search(sums, start, free, lowest, criterion)
    for k in range(1, len(names)):
        # The criterion is flat in the logarithm of a small standard deviation: zero is compared outright.
        sds = np.where(free, np.exp(log_sds), 0.0)
        without = np.where(np.arange(len(names)) == k, 0.0, sds)
        if _at(sums, without, criterion).value <= _at(sums, sds, criterion).value:
            free[k] = False
            log_sds = _search(sums, start, free, lowest, criterion)
    sds = np.where(free, np.exp(log_sds), 0.0)
    point = _at(sums, sds, criterion)
    norm = float(np.abs(point.gradient[free]).max())
    q = len(sums.component)
    back = np.linalg.inv(sums.T)
    covariance = _at(sums, sds, "reml").covariance[q:, q:]
    response = np.asarray(y, dtype=np.float64)
    least = np.linalg.lstsq(np.asarray(X, dtype=np.float64), response, rcond=None)[0]
    return CrossedFit(
        standard_deviations=dict(zip(names, sds.tolist(), strict=True)),
        criterion=point.value,
        coefficients=least + back @ point.solution[q:],
        covariance=back @ covariance @ back.T,
        effects={name: point.solution[:q][sums.component == k].copy() for k, name in enumerate(sums.names)},
        singular=tuple(name for name, there in zip(names, free.tolist(), strict=True) if not there),
        gradient_norm=norm,
        converged=norm <= CONVERGED_GRADIENT,
    )


def _search(
    sums: CrossedSums, start: FloatArray, free: NDArray[np.bool_], lowest: float, criterion: Criterion
) -> FloatArray:
    """Log sds (components,) at the best value with those not ``free`` at zero."""

    def gradient(x: FloatArray) -> _Point:
        sds = np.zeros(len(free))
        sds[free] = np.exp(x)
        return _at(sums, sds, criterion)

    def evaluate(x: FloatArray) -> Point:
        try:
            point = gradient(x)
        except np.linalg.LinAlgError:  # so far out that the sums cancel
            return Point(x, math.inf, np.zeros_like(x), lambda: np.eye(len(x)))

        def information() -> FloatArray:
            """Differences of the exact gradient, made positive: far out the curvature may be negative."""
            steps = np.eye(len(x)) * HESSIAN_STEP
            rows = [gradient(x + step).gradient[free] - point.gradient[free] for step in steps]
            values, vectors = np.linalg.eigh((np.array(rows) + np.array(rows).T) / 2 / HESSIAN_STEP)
            metric: FloatArray = (vectors * np.abs(values)) @ vectors.T
            return metric

        return Point(x, point.value, point.gradient[free], information)

    low = np.full(int(free.sum()), lowest)
    high = np.full_like(low, math.log(30.0 * sums.spread))
    found = start.copy()
    found[free] = minimise(
        evaluate, start[free], low, high, np.arange(len(free))[free] > 0, 0.01 * CONVERGED_GRADIENT
    ).x
    return found
