"""Ratings on what whips are: a cumulative logit model whose slopes are held small unless the whips insist.

P(rating <= j) = logistic(t_j - x b): proportional odds (McCullagh 1980, *J. R. Stat. Soc. B* 42:109). The
slopes of standardised columns have a normal prior of mean 0, which ridge regression is; the thresholds are
free. Fitted by Newton's method with halved steps.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import linalg
from scipy.special import expit, log_expit

from plaitlog.models.handling.study import Array

ROUNDS: Final = 100
TOLERANCE: Final = 1e-8
LONGEST_STEP: Final = 4.0
"""Of any parameter, in log odds or the log of a gap: further the model is another one (own choice)."""
LEAST_GAP: Final = -12.0
"""Log of the least gap between two thresholds: below it neighbouring ratings are one."""


@dataclass(frozen=True, slots=True, eq=False)
class CumulativeLink:
    """levels : (c,), the ratings that occur, rising. thresholds : (c - 1,). slopes : (k,). covariance :
    (k, k) of the slopes by Laplace's approximation. prior_sd : of each slope. log_likelihood : without the
    prior."""

    levels: Array
    thresholds: Array
    slopes: Array
    covariance: Array
    prior_sd: float
    log_likelihood: float

    def probabilities(self, X: Array) -> Array:
        """(n, c): of each level, for rows of standardised columns (n, k)."""
        return _probabilities(X @ self.slopes, self.thresholds)

    def expected(self, X: Array) -> Array:
        """(n,): the mean rating."""
        return self.probabilities(X) @ self.levels


def fit_cumulative_link(X: Array, ratings: Array, prior_sd: float) -> CumulativeLink:
    """Fit to ratings (n,) on standardised columns (n, k).

    prior_sd : of each slope; infinity for none. With one rating for all there are no thresholds, and nothing
    is learnt. Raises ValueError where a number is not finite.
    """
    if not (np.isfinite(X).all() and np.isfinite(ratings).all()):
        raise ValueError("columns and ratings must be finite")
    levels, of = np.unique(ratings, return_inverse=True)
    cuts, k = len(levels) - 1, X.shape[1]
    if cuts == 0 or len(ratings) == 0:
        prior = np.eye(k) * prior_sd**2
        return CumulativeLink(levels, np.empty(0), np.zeros(k), prior, prior_sd, 0.0)
    share = np.cumsum(np.bincount(of))[:-1] / len(of)
    start = np.log(share / (1 - share))
    theta = np.concatenate([start[:1], np.log(np.diff(start)), np.zeros(k)])
    value, gradient, hessian = _objective(theta, X, of, cuts, prior_sd)
    for _ in range(ROUNDS):
        step = _newton(hessian, gradient)
        length = min(1.0, LONGEST_STEP / max(float(np.abs(step).max()), LONGEST_STEP))
        while length > 1e-6:
            tried = theta - length * step
            tried[1:cuts] = np.maximum(tried[1:cuts], LEAST_GAP)
            found = _objective(tried, X, of, cuts, prior_sd)
            if found[0] <= value:
                break
            length /= 2
        else:
            break
        done = value - found[0] < TOLERANCE * (1 + abs(value))
        theta, (value, gradient, hessian) = tried, found
        if done:
            break
    slopes = theta[cuts:]
    inverse = np.asarray(linalg.pinvh(hessian), dtype=np.float64)
    loss = value - _penalty(slopes, prior_sd)
    return CumulativeLink(levels, _thresholds(theta, cuts), slopes, inverse[cuts:, cuts:], prior_sd, -loss)


def _newton(hessian: Array, gradient: Array) -> Array:
    """The step, on a Hessian made positive where it is not."""
    values, vectors = linalg.eigh(hessian)
    held = np.maximum(np.abs(values), 1e-8)
    return np.asarray(vectors @ ((vectors.T @ gradient) / held))


def _thresholds(theta: Array, cuts: int) -> Array:
    """The first, then gaps whose logarithms are the parameters, so that they always rise."""
    return np.asarray(np.cumsum(np.concatenate([theta[:1], np.exp(theta[1:cuts])])))


def _probabilities(eta: Array, thresholds: Array) -> Array:
    below = expit(thresholds[None, :] - eta[:, None])
    n = len(eta)
    whole = np.hstack([np.zeros((n, 1)), below, np.ones((n, 1))])
    return np.diff(whole, axis=1)


def _penalty(slopes: Array, prior_sd: float) -> float:
    return 0.0 if np.isinf(prior_sd) else float(slopes @ slopes) / (2 * prior_sd**2)


def _objective(
    theta: Array, X: Array, of: npt.NDArray[np.intp], cuts: int, prior_sd: float
) -> tuple[float, Array, Array]:
    """Penalised minus log-likelihood with its gradient and Hessian in (first threshold, log gaps, slopes)."""
    n, k = X.shape
    thresholds, slopes = _thresholds(theta, cuts), theta[cuts:]
    eta = X @ slopes
    # Of each rating the upper and the lower bound; beyond the scale they lie at infinity.
    ends = np.concatenate([[-np.inf], thresholds, [np.inf]])
    upper, lower = ends[of + 1] - eta, ends[of] - eta
    # p = s(u) s(-l) (1 - exp(l - u)) with s the logistic function: no difference of numbers that are alike,
    # and what is divided by p is a difference of logarithms.
    apart = -np.expm1(lower - upper)
    log_p = log_expit(upper) + log_expit(-lower) + np.log(apart)
    high = np.exp(log_expit(-upper) - log_expit(-lower)) / apart
    low = np.exp(log_expit(lower) - log_expit(upper)) / apart
    bent_high, bent_low = high * (1 - 2 * expit(upper)), low * (1 - 2 * expit(lower))
    # Derivatives of the bounds in (thresholds, slopes): +1 at the own threshold, -x at the slopes.
    up, down = np.zeros((n, cuts)), np.zeros((n, cuts))
    rows = np.arange(n)
    inside = of < cuts
    up[rows[inside], of[inside]] = 1.0
    inside = of > 0
    down[rows[inside], of[inside] - 1] = 1.0
    upper_rows, lower_rows = np.hstack([up, -X]), np.hstack([down, -X])
    slope = high[:, None] * upper_rows - low[:, None] * lower_rows
    gradient = -slope.sum(axis=0)
    hessian = slope.T @ slope
    hessian -= upper_rows.T @ (upper_rows * bent_high[:, None])
    hessian += lower_rows.T @ (lower_rows * bent_low[:, None])
    # From thresholds to (first, log gaps): threshold j moves with every gap up to j.
    turn = np.eye(cuts + k)
    gaps = np.exp(theta[1:cuts])
    for j in range(cuts):
        turn[j, 0] = 1.0
        turn[j, 1:cuts] = np.where(np.arange(1, cuts) <= j, gaps, 0.0)
    moved = turn.T @ gradient
    curved = turn.T @ hessian @ turn
    for place in range(1, cuts):
        curved[place, place] += moved[place]
    if not np.isinf(prior_sd):
        moved[cuts:] += slopes / prior_sd**2
        curved[cuts:, cuts:] += np.eye(k) / prior_sd**2
    return float(-log_p.sum()) + _penalty(slopes, prior_sd), moved, curved
