"""All parameters at once: a cumulative logit model, held against always saying the usual rating."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.handling.associations import HEADLINE
from plaitlog.models.handling.columns import MAKER, Columns, columns_of
from plaitlog.models.handling.cumulative_link import CumulativeLink, fit_cumulative_link
from plaitlog.models.handling.study import Array, Study

FEWEST: Final = 8
"""Rated whips below which nothing is fitted jointly (own choice)."""
PRIOR_SDS: Final = (0.05, 0.15, 0.4, 1.0)
"""Spreads of the prior of a slope that are compared; a spread more of a parameter then moves the log odds by
so much (own choice: from next to nothing to a strong effect)."""
LEAVE_ONE_OUT_UP_TO: Final = 40
FOLDS: Final = 10
SURE: Final = 1.645
"""Standard errors by which the model has to be better: one time in twenty by chance."""
SMOOTHING: Final = 0.5
"""Ratings added to each level of the usual rating, so that none is impossible (Jeffreys' prior)."""


@dataclass(frozen=True, slots=True)
class Slope:
    """Log odds of a better rating for one spread more of a parameter, with its 95 % interval."""

    name: str
    value: float
    low_95: float
    high_95: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joint:
    """score, usual_score : mean ranked probability score (Epstein 1969) of held-out whips under the model and
    under the usual ratings; less is better. gain : usual less model, se its standard error over whips.
    better : whether the model is better beyond chance. usual : the commonest rating."""

    quality: str
    n: int
    usual: float
    score: float
    usual_score: float
    gain: float
    se: float
    better: bool
    slopes: tuple[Slope, ...]
    columns: Columns
    model: CumulativeLink


def fit_joint(
    study: Study, quality: str, parameters: Sequence[str] = HEADLINE, *, seed: int = 0
) -> Joint | None:
    """The joint model of one quality; None for fewer than eight rated whips, one rating, or no parameter.

    Whips are left out one by one up to forty of them, a tenth at a time above; the strength of shrinkage is
    chosen anew without those left out, by Laplace's approximation of the marginal likelihood. The build
    number and the makers are among the columns, so that skill is not taken for shape.
    """
    order = np.argsort(np.array(study.labels), kind="stable")
    every = comparable(study, quality)
    rows = order[np.isfinite(every[order])]
    ratings = every[rows]
    columns = columns_of(study, rows, parameters, beside=True)
    n = len(rows)
    if n < FEWEST or np.ptp(ratings) == 0 or not columns.names:
        return None
    model_scores, usual_scores = np.empty(n), np.empty(n)
    for out in _folds(n, seed):
        kept = np.setdiff1d(np.arange(n), out)
        fitted = best_fit(columns.X[kept], ratings[kept])
        model_scores[out] = _scores(fitted.levels, fitted.probabilities(columns.X[out]), ratings[out])
        levels, shares = _usual(ratings[kept])
        usual_scores[out] = _scores(levels, np.tile(shares, (len(out), 1)), ratings[out])
    model = best_fit(columns.X, ratings)
    off = usual_scores - model_scores
    gain, se = float(off.mean()), float(off.std(ddof=1) / np.sqrt(n))
    values, counts = np.unique(ratings, return_counts=True)
    return Joint(
        quality=quality,
        n=n,
        usual=float(values[np.argmax(counts)]),
        score=float(model_scores.mean()),
        usual_score=float(usual_scores.mean()),
        gain=gain,
        se=se,
        better=gain > SURE * se,
        slopes=tuple(_slopes(columns, model)),
        columns=columns,
        model=model,
    )


def comparable(study: Study, quality: str) -> Array:
    """(n,): whole ratings 1 to 10 as a usual rater would have given them, NaN where there is none.

    The straight line of levels on ratings standardised within raters takes these back to the scale, without
    the raters' leniency and with whips that were only compared. Where there is no such line, the levels.
    """
    standard, level = study.ratings[quality], study.levels[quality]
    both = np.isfinite(standard) & np.isfinite(level)
    if both.sum() < 2 or np.ptp(standard[both]) == 0:
        return np.asarray(np.round(level), dtype=np.float64)
    away, spread = standard[both] - standard[both].mean(), level[both] - level[both].mean()
    slope = float(away @ spread) / float(away @ away)
    if slope <= 0:
        return np.asarray(np.round(level), dtype=np.float64)
    # Halves are exact again before they are rounded, whatever the order in which whips were summed.
    scaled = np.round(level[both].mean() + slope * (standard - standard[both].mean()), 6)
    return np.asarray(np.clip(np.round(scaled), 1.0, 10.0), dtype=np.float64)


def best_fit(X: Array, ratings: Array) -> CumulativeLink:
    """The fit whose strength of shrinkage has the greatest approximate marginal likelihood."""
    fits = [fit_cumulative_link(X, ratings, sd) for sd in PRIOR_SDS]
    return max(fits, key=_log_evidence)


def _log_evidence(one: CumulativeLink) -> float:
    """Laplace's approximation, up to what all strengths share."""
    prior = float(one.slopes @ one.slopes) / (2 * one.prior_sd**2)
    _, log_det = np.linalg.slogdet(one.covariance / one.prior_sd**2)
    return one.log_likelihood - prior + float(log_det) / 2


def _folds(n: int, seed: int) -> list[Array]:
    if n <= LEAVE_ONE_OUT_UP_TO:
        return [np.array([k]) for k in range(n)]
    return list(np.array_split(np.random.default_rng(seed).permutation(n), FOLDS))


def _usual(ratings: Array) -> tuple[Array, Array]:
    levels, counts = np.unique(ratings, return_counts=True)
    shares = counts + SMOOTHING
    return levels, shares / shares.sum()


def _scores(levels: Array, probabilities: Array, ratings: Array) -> Array:
    """(n,): ranked probability scores on the scale 1 to 10."""
    scale = np.arange(1.0, 11.0)
    whole = np.zeros((len(ratings), len(scale)))
    whole[:, np.searchsorted(scale, levels)] = probabilities
    reached = ratings[:, None] <= scale[None, :]
    found: Array = ((np.cumsum(whole, axis=1) - reached) ** 2).sum(axis=1)
    return found


def _slopes(columns: Columns, model: CumulativeLink) -> list[Slope]:
    sds = np.sqrt(np.diag(model.covariance))
    return [
        Slope(name, float(value), float(value - 1.96 * sd), float(value + 1.96 * sd))
        for name, value, sd in zip(columns.names, model.slopes, sds, strict=True)
        if not name.startswith(MAKER)
    ]
