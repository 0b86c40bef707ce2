"""Ratings made comparable between raters: each in spreads from the rater's own mean.

A rater who has judged few whips is taken to be more like the others (empirical Bayes; Morris 1983, *JASA*
78:47, for means; Smyth 2004, *Stat. Appl. Genet. Mol. Biol.* 3:3, for variances). A whip that was
compared with another one is rated as that one, a step up or down.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

import numpy as np

PRIOR_RATINGS: Final = 4.0
"""So many ratings of everybody count beside a rater's own for the spread (own choice)."""
SMALLEST_SPREAD: Final = 0.5
"""Points on the scale of 1 to 10 below which no rater's spread is believed (own choice: half a step)."""
STEP: Final = 1.0
"""Spreads of the rater by which better is above, and worse below, what it was compared with (own choice: two
draws from one normal distribution lie 2 / sqrt(pi) = 1.13 spreads apart on average)."""
_SIGN: Final = {"better": 1, "same": 0, "worse": -1}


@dataclass(frozen=True, slots=True)
class Score:
    """What one rater gave one whip for one quality in one session, 1 to 10."""

    whip: str
    rater: str
    value: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """What one rater found of one whip for one quality beside another: "better", "same" or "worse"."""

    whip: str
    beside: str
    word: str


@dataclass(frozen=True, slots=True)
class Rater:
    """How one rater judges: mean and spread, pooled with the others; ratings : how many there are."""

    mean: float
    spread: float
    ratings: int


def raters_of(scores: Sequence[Score]) -> dict[str, Rater]:
    """Mean and spread of every rater of one quality; the spread is above 0 whatever the ratings."""
    given: dict[str, list[float]] = defaultdict(list)
    for score in scores:
        given[score.rater].append(score.value)
    values = [np.array(one) for one in given.values()]
    if not values:
        return {}
    everybody = np.concatenate(values)
    centre = float(np.mean([one.mean() for one in values]))
    degrees = sum(len(one) - 1 for one in values)
    within = float(sum(((one - one.mean()) ** 2).sum() for one in values))
    pooled = within / degrees if degrees > 0 and within > 0 else float(everybody.var()) or 1.0
    between = _between([float(one.mean()) for one in values], [len(one) for one in values], pooled)
    found = {}
    for name, one in zip(given, values, strict=True):
        n = len(one)
        weight = between / (between + pooled / n)
        variance = (((one - one.mean()) ** 2).sum() + PRIOR_RATINGS * pooled) / (n - 1 + PRIOR_RATINGS)
        found[name] = Rater(
            centre + weight * (float(one.mean()) - centre), max(float(variance) ** 0.5, SMALLEST_SPREAD), n
        )
    return found


def standardised(
    scores: Sequence[Score],
    raters: Mapping[str, Rater],
    comparisons: Iterable[Comparison] = (),
    beside: Mapping[str, float] | None = None,
) -> dict[str, float]:
    """By whip the mean over its sessions of each rating less its rater's mean, over the rater's spread.

    ``beside`` gives the standardised ratings, in numbers, of the whips that others were compared with; a
    comparison with a whip that has none counts for nothing.
    """
    by_whip: dict[str, list[float]] = defaultdict(list)
    for score in scores:
        rater = raters[score.rater]
        by_whip[score.whip].append((score.value - rater.mean) / rater.spread)
    rated = beside or {}
    for one in comparisons:
        if one.beside in rated:
            by_whip[one.whip].append(rated[one.beside] + STEP * _SIGN[one.word])
    return {whip: fmean(found) for whip, found in by_whip.items()}


def by_rater(scores: Iterable[Score], raters: Mapping[str, Rater]) -> list[list[float]]:
    """For each whip that several raters judged the standardised mean of each of them."""
    found: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for score in scores:
        rater = raters[score.rater]
        found[score.whip][score.rater].append((score.value - rater.mean) / rater.spread)
    return [[fmean(one) for one in given.values()] for given in found.values() if len(given) > 1]


def _between(means: Sequence[float], numbers: Sequence[int], pooled: float) -> float:
    """Variance of the raters' true means by the method of moments; not below a hundredth of the pooled."""
    if len(means) < 2:
        return pooled
    sampling = float(np.mean([pooled / n for n in numbers]))
    return max(float(np.var(means, ddof=1)) - sampling, 0.01 * pooled)
