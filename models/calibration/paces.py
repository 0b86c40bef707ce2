"""Regression of hours on reckoned work: a level, one for what is no plaiting, and the pace of each maker.

log(hours / reckoned) = level (1 - s) + beside s + maker + residual, s the share of the work that is no
plaiting. The two standard deviations lie on a grid, weighted by their marginal likelihood and priors; all
else is in closed form, some milliseconds for hundreds of whips.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from plaitlog.models.calibration.mixed.mixed_model import LogNormalPrior
from plaitlog.models.calibration.observations import Z90
from plaitlog.models.calibration.ratios import Expectation

Floats = npt.NDArray[np.float64]

LEVEL_SD: Final = 0.4
BESIDE_SD: Final = 0.5
"""Physical reasoning: seconds that are guessed are out by a half either way."""
MAKER: Final = LogNormalPrior(0.25, 0.7)
RESIDUAL: Final = LogNormalPrior(0.15, 0.7)
"""Physical reasoning: hands differ by a quarter, whips of one hand by a seventh, hours noted to a half."""
SPREADS: Final = np.linspace(-2.5, 2.5, 9)
"""Nodes of the grid in prior standard deviations of the logarithm."""
FAR_SDS: Final = 2.5
"""Hours that are further off count less, the more so the further they are: slips of the pen (own choice)."""
ROUNDS: Final = 5


@dataclass(frozen=True, slots=True)
class Timed:
    """A whip whose hours are noted. log : of hours over reckoned; beside : share that is no plaiting."""

    maker: str
    log: float
    beside: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Paces:
    """Posterior mean and covariance of level, beside and makers; variances of a new maker and a new whip."""

    makers: tuple[str, ...]
    coefficients: Floats
    covariance: Floats
    maker_variance: float
    residual_variance: float

    def expect(self, reckoned: float, beside: float, maker: str) -> Expectation:
        """Hours of one more whip (``reckoned`` above 0), with their 90 % interval."""
        row = _row(beside, maker, self.makers)
        variance = float(row @ self.covariance @ row) + self.residual_variance
        if maker not in self.makers:
            variance += self.maker_variance
        middle, reach = float(row @ self.coefficients), Z90 * math.sqrt(variance)
        return Expectation(*(reckoned * math.exp(middle + z) for z in (0.0, -reach, reach)))


def fit_paces(timed: Sequence[Timed]) -> Paces:
    """From what was timed; from the priors alone where nothing was."""
    makers = tuple(sorted({one.maker for one in timed}))
    X = np.array([_row(one.beside, one.maker, makers) for one in timed]).reshape(len(timed), 2 + len(makers))
    log = np.array([one.log for one in timed])
    found = _averaged(X, log, np.ones(len(timed)), makers)
    for _ in range(ROUNDS if timed else 0):
        off = np.abs(log - X @ found.coefficients) / math.sqrt(found.residual_variance)
        found = _averaged(X, log, np.minimum(1.0, (FAR_SDS / np.maximum(off, 1e-9)) ** 2), makers)
    return found


def _averaged(X: Floats, log: Floats, weight: Floats, makers: tuple[str, ...]) -> Paces:
    """Posterior moments over the grid of both standard deviations."""
    grid = [
        (MAKER.median * math.exp(MAKER.log_sd * a), RESIDUAL.median * math.exp(RESIDUAL.log_sd * b))
        for a in SPREADS
        for b in SPREADS
    ]
    prior = np.array([-(a**2 + b**2) / 2 for a in SPREADS for b in SPREADS])
    parts = [_posterior(X, log, weight, *sds) for sds in grid]
    score = prior + np.array([likelihood for likelihood, _, _ in parts])
    share = np.exp(score - score.max())
    share /= share.sum()
    mean = sum(p * m for p, (_, m, _) in zip(share, parts, strict=True))
    spread = sum(p * (C + np.outer(m - mean, m - mean)) for p, (_, m, C) in zip(share, parts, strict=True))
    variances = share @ np.square(np.array(grid))
    return Paces(
        makers=makers,
        coefficients=np.asarray(mean),
        covariance=np.asarray(spread),
        maker_variance=float(variances[0]),
        residual_variance=float(variances[1]),
    )


def _posterior(
    X: Floats, log: Floats, weight: Floats, maker_sd: float, residual_sd: float
) -> tuple[float, Floats, Floats]:
    """Log marginal likelihood but for a constant, mean and covariance of the coefficients."""
    prior_precision = np.array([LEVEL_SD**-2, BESIDE_SD**-2, *[maker_sd**-2] * (X.shape[1] - 2)])
    precision = np.diag(prior_precision) + (X.T * weight) @ X / residual_sd**2
    covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    mean = covariance @ (X.T @ (weight * log)) / residual_sd**2
    off = log - X @ mean
    fit = float(weight @ off**2) / residual_sd**2 + float(prior_precision @ mean**2)
    size = float(np.linalg.slogdet(precision)[1]) - float(np.log(prior_precision).sum())
    return -(fit + size) / 2 - len(log) * math.log(residual_sd), mean, covariance


def _row(beside: float, maker: str, makers: Sequence[str]) -> Floats:
    return np.array([1.0 - beside, beside, *(float(one == maker) for one in makers)])
