"""The three best whips beside the three worst: what few rated whips can say."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding
from plaitlog.models.handling.associations import HEADLINE
from plaitlog.models.handling.spoken import spoken
from plaitlog.models.handling.study import Study

ENOUGH: Final = 15
"""Rated whips below which the best beside the worst say more than any statistic (own choice)."""
ENDS: Final = 3


@dataclass(frozen=True, slots=True)
class Difference:
    """Of one parameter: its mean among the best and among the worst, in its own unit, over ``known`` whips of
    both ends; in_spreads : best less worst over the standard deviation among all rated whips."""

    parameter: str
    best: float
    worst: float
    in_spreads: float
    known: int


@dataclass(frozen=True, slots=True)
class Contrast:
    """best, worst : labels, the best and the worst first. differences : the largest first."""

    quality: str
    rated: int
    best: tuple[str, ...]
    worst: tuple[str, ...]
    differences: tuple[Difference, ...]
    findings: tuple[Finding, ...]


def contrast(study: Study, quality: str, parameters: Sequence[str] = HEADLINE) -> Contrast:
    """The three best beside the three worst of the whips rated for a quality; fewer where fewer than six are.

    It describes, and proves nothing. Raises KeyError for a name the study does not have.
    """
    rating = study.ratings[quality]
    rated = np.flatnonzero(np.isfinite(rating)).tolist()
    rated.sort(key=lambda k: (-rating[k], study.labels[k]))
    ends = min(ENDS, len(rated) // 2)
    best, worst = rated[:ends], rated[len(rated) - ends :][::-1]
    if not ends or rating[best[0]] == rating[worst[0]]:
        alike = "all alike" if ends else "which is too few"
        text = f"{_rated(len(rated))} for {spoken(quality)}, {alike}"
        finding = Finding("no-contrast", f"{text}: there is no better and worse", "rate more whips")
        return Contrast(quality, len(rated), (), (), (), (finding,))
    found = [_difference(study, name, rated, best, worst) for name in parameters]
    told = sorted((one for one in found if one), key=lambda one: -abs(one.in_spreads))
    return Contrast(
        quality,
        len(rated),
        tuple(study.labels[k] for k in best),
        tuple(study.labels[k] for k in worst),
        tuple(told),
        _findings(study, quality, rated, ends),
    )


def _difference(
    study: Study, name: str, rated: Sequence[int], best: Sequence[int], worst: Sequence[int]
) -> Difference | None:
    """None where an end has no value, or all rated whips have the same."""
    column = study.parameters[name]
    ends = [[column[k] for k in end if np.isfinite(column[k])] for end in (best, worst)]
    known = [column[k] for k in rated if np.isfinite(column[k])]
    if not all(ends) or np.ptp(known) == 0:
        return None
    means = [float(np.mean(end)) for end in ends]
    spread = float(np.std(known, ddof=1))
    return Difference(name, means[0], means[1], (means[0] - means[1]) / spread, sum(map(len, ends)))


def _rated(number: int) -> str:
    return f"{counted(number, 'whip')} {'is' if number == 1 else 'are'} rated"


def _findings(study: Study, quality: str, rated: Sequence[int], ends: int) -> tuple[Finding, ...]:
    rating = study.ratings[quality]
    found = []
    if ends < ENDS:
        here = f"only {_rated(len(rated))} for {spoken(quality)}"
        text = f"{here}: the {ends} best beside the {ends} worst"
        found.append(Finding("few-rated", text, "rate more whips"))
    if len(rated) > 2 * ends:
        for word, inner, outer in (("best", ends - 1, ends), ("worst", -ends, -ends - 1)):
            if rating[rated[inner]] == rating[rated[outer]]:
                text = f"others are rated for {spoken(quality)} just as one of the {ends} {word}"
                found.append(Finding("ties", text, where=word))
    return tuple(found)
