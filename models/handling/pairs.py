"""Statistics of parameters against qualities that have the same whips in common, all pairs at once."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.stats import t as student

from plaitlog.models.handling.explanations import Explanations
from plaitlog.models.handling.partial_ranks import PartialTest, basis, p_values
from plaitlog.models.handling.rank_intervals import rank_intervals
from plaitlog.models.handling.ranks import Array, spearman, standard_ranks, unit_rows

FEWEST_FOR_BEND: Final = 8
"""Whips without which no bend is looked for (own choice)."""
SIDE: Final = 0.05
"""One-sided p that the rise on one side and the fall on the other each have to reach (own choice): a parabola
alone also fits a trend that levels off (two lines instead of one curve: Simonsohn 2018)."""
INSIDE: Final = 0.1
"""Share of the whips that has to lie on either side of a bend (own choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class PairStatistics:
    """Each (p, q), NaN where it cannot be told.

    rho, low_95, high_95, p : rank correlation, interval, permutation p. partial_rho, partial_p : beside what
    else is noted. bend_rho, bend_p : of the squared centred rank beside the rank and what else is noted,
    below 0 where the middle is best. bend_at : where that parabola turns, in the parameter's own unit; NaN
    where it turns outside of the whips or has not a rise on one side and a fall on the other.
    """

    rho: Array
    low_95: Array
    high_95: Array
    p: Array
    partial_rho: Array
    partial_p: Array
    bend_rho: Array
    bend_p: Array
    bend_at: Array


def pair_statistics(
    x: Array, y: Array, beside: Explanations, *, draws: int, resamples: int, seed: int
) -> PairStatistics:
    """Of rows of x (p, n) with rows of y (q, n), all known, n at least 5."""
    X, Y = standard_ranks(x), standard_ranks(y)
    n = X.shape[1]
    accounted = basis(beside.all) if beside.names else np.empty((0, n))
    tests = [PartialTest(X, Y, np.empty((0, n)))]
    if beside.names:
        tests.append(PartialTest(X, Y, accounted))
    squares = [unit_rows(np.square(row)[None]) for row in X] if n >= FEWEST_FOR_BEND else []
    tests += [
        PartialTest(square, Y, basis(np.vstack([row, accounted])))
        for row, square in zip(X, squares, strict=False)
    ]
    found = [_told(test, p) for test, p in zip(tests, p_values(tests, draws, seed), strict=True)]
    (rho, p), bends = found[0], found[len(found) - len(squares) :]
    unknown = np.full(rho.shape, np.nan)
    partial_rho, partial_p = found[1] if beside.names else (unknown, unknown)
    bend_rho, bend_p = (np.vstack([bend[k] for bend in bends]) if bends else unknown for k in (0, 1))
    bend_at = unknown.copy()
    if bends:
        for i, j in np.argwhere(~np.isnan(bend_rho)).tolist():
            bend_at[i, j] = _turn(x[i], X[i], Y[j], accounted)
    low, high = rank_intervals(x, y, rho, resamples, seed)
    return PairStatistics(rho, low, high, p, partial_rho, partial_p, bend_rho, bend_p, bend_at)


def _told(test: PartialTest, p: Array) -> tuple[Array, Array]:
    """Correlation and p; NaN where nothing was left to be correlated."""
    return np.where(test.defined, test.observed, np.nan), np.where(test.defined, p, np.nan)


def _one_sided(x: Array, y: Array) -> float:
    """p by Student's t of a rank correlation above 0; 1 where there is none to be told."""
    freedom = len(x) - 2
    rho = spearman(x, y) if freedom > 0 else float("nan")
    if np.isnan(rho):
        return 1.0
    return float(student.sf(rho * np.sqrt(freedom / max(1 - rho**2, 1e-12)), freedom))


def _turn(x: Array, rank: Array, rating: Array, accounted: Array) -> float:
    """Where the parabola of the rating over the rank turns, as a value of x."""
    design = np.vstack([rank, np.square(rank) - np.square(rank).mean(), accounted]).T
    slope, bend = np.linalg.lstsq(design, rating)[0][:2]
    if bend == 0:
        return float("nan")
    turn = -slope / (2 * bend)
    left = rank < turn
    if not INSIDE * len(x) <= left.sum() <= (1 - INSIDE) * len(x):
        return float("nan")
    directions = -np.sign(bend), np.sign(bend)
    if any(
        _one_sided(rank[s], way * rating[s]) > SIDE for s, way in zip((left, ~left), directions, strict=True)
    ):
        return float("nan")
    order = np.argsort(rank)
    return float(np.interp(turn, rank[order], x[order]))
