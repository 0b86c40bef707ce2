"""Regression of what was measured on what is reckoned: log(measured / reckoned), with cord and whip effects.

Weights, metres of cord and balance points are all reckoned from the strands first; recorded whips say by how
much the reckoning is out for a hand, a cord, a handle. One regression serves all three.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Final, Self

import numpy as np
import numpy.typing as npt

from plaitlog.models.calibration.check_sum import agrees, check_sum
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    FixedBlock,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.observations import Z90

Floats = npt.NDArray[np.float64]
FREEDOM: Final = 4.0
"""Degrees of freedom of the Student t (common choice: Lange, Little & Taylor 1989)."""
ROUNDS: Final = 6
SPREAD_AT_LEAST: Final = 0.03
"""Sd in logs that the first weights start from at least (own choice)."""


@dataclass(frozen=True)
class RatioPriors:
    """What is known of log(measured / reckoned) before anything is measured.

    level : mean and sd of the ratio common to all strands. parts : sd for each part that is no strand.
    cord : between cords. whip : between whips of the same cords. residual : of one measurement.
    """

    level: tuple[float, float]
    parts: Mapping[str, float]
    cord: LogNormalPrior
    whip: LogNormalPrior
    residual: LogNormalPrior


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoned:
    """One quantity of a whip as it is reckoned (above 0), in its own unit.

    cords, parts : shares of it that belong to strands of a cord, and to what is no strand; what is left to 1
    belongs to all cords alike. unknown_sd : sd of the log ratio of what is known to be guessed.
    """

    value: float
    cords: Mapping[str, float] = field(default_factory=dict)
    parts: Mapping[str, float] = field(default_factory=dict)
    unknown_sd: float = 0.0

    def __post_init__(self) -> None:
        if not (0 < self.value < math.inf and 0 <= self.unknown_sd < math.inf):
            raise ValueError(f"what is reckoned must be above 0 and finite, got {self}")


@dataclass(frozen=True, slots=True)
class Ratio:
    """One measurement (above 0, in the unit of what is reckoned) of a whip."""

    whip: str
    measured: float
    reckoned: Reckoned

    @property
    def log(self) -> float:
        return math.log(self.measured / self.reckoned.value)


@dataclass(frozen=True, slots=True)
class Expectation:
    """What to expect of one more measurement, with its 90 % interval; in the unit of what is reckoned."""

    value: float
    low_90: float
    high_90: float


@dataclass(frozen=True, kw_only=True)
class RatioCalibration:
    """Posterior moments of level, parts and cords (columns in that order); variances of what is new.

    whips, measurements : how many it was learnt from.
    """

    parts: tuple[str, ...]
    cords: tuple[str, ...]
    whips: int
    measurements: int
    coefficients: Floats
    covariance: Floats
    cord_variance: float
    whip_variance: float
    residual_variance: float

    def expect(self, reckoned: Reckoned, own: Sequence[Ratio] = ()) -> Expectation:
        """Of one more measurement; a cord never measured gets the variance between cords.

        own : what was measured on the same whip already (not learnt from), such as its weight before the
        overlay. It conditions level, cords and the whip's own effect, in closed form.
        """
        rows = [reckoned, *(one.reckoned for one in own)]
        new = sorted({cord for row in rows for cord in row.cords} - set(self.cords))
        X = np.array([_row(row, self.parts, (*self.cords, *new)) for row in rows])
        prior = np.zeros((X.shape[1], X.shape[1]))
        known = len(self.coefficients)
        prior[:known, :known] = self.covariance
        prior[range(known, len(prior)), range(known, len(prior))] = self.cord_variance
        own_variance = [self.residual_variance + row.unknown_sd**2 for row in rows]
        covariance = X @ prior @ X.T + self.whip_variance + np.diag(own_variance)
        mean = X[:, :known] @ self.coefficients
        middle, variance = float(mean[0]), float(covariance[0, 0])
        if own:
            gain = np.linalg.solve(covariance[1:, 1:], covariance[1:, 0])
            middle += float(gain @ (np.array([one.log for one in own]) - mean[1:]))
            variance -= float(gain @ covariance[1:, 0])
        reach = Z90 * math.sqrt(variance)
        return Expectation(*(reckoned.value * math.exp(middle + z) for z in (0.0, -reach, reach)))

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        numbers = {"coefficients": self.coefficients.tolist(), "covariance": self.covariance.tolist()}
        return {**asdict(self), **numbers, "check_sum": self._check_sum}

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Self:
        """What ``to_dict`` gave. Raises ValueError, TypeError or KeyError where it is something else."""
        told = dict(stored)
        written = float(told.pop("check_sum"))
        for name in ("coefficients", "covariance"):
            told[name] = np.array(told[name], dtype=np.float64)
        for name in ("parts", "cords"):
            told[name] = tuple(map(str, told[name]))
        found = cls(**told)
        size = 1 + len(found.parts) + len(found.cords)
        variances = [found.cord_variance, found.whip_variance, found.residual_variance]
        if found.coefficients.shape != (size,) or found.covariance.shape != (size, size):
            raise ValueError("coefficients and covariance do not belong together")
        if not (np.isfinite(found.coefficients).all() and np.isfinite(found.covariance).all()):
            raise ValueError("a number is not finite")
        if not all(0 <= variance < math.inf for variance in variances):
            raise ValueError("a variance is not finite")
        if not agrees(found._check_sum, written):
            raise ValueError("its numbers are not those that were stored")
        return found

    @property
    def _check_sum(self) -> float:
        variances = [self.cord_variance, self.whip_variance, self.residual_variance]
        return check_sum([self.coefficients, np.tril(self.covariance), np.array(variances)])


def fit_ratios(ratios: Sequence[Ratio], priors: RatioPriors) -> RatioCalibration:
    """The calibration from all measurements; with none, the priors alone.

    Robust: weights of a Student t of four degrees of freedom, from how far each measurement lies off what
    level, parts and cords say, so that one mistyped weight moves next to nothing.
    """
    if not ratios:
        return _unlearnt(priors)
    from plaitlog.models.calibration.mixed.draws import averaged_posterior, draw_sds
    from plaitlog.models.calibration.mixed.estimation import estimate
    from plaitlog.models.calibration.mixed.posterior import posterior_at

    parts = tuple(priors.parts)
    cords = tuple(sorted({cord for one in ratios for cord in one.reckoned.cords}))
    labels = sorted({one.whip for one in ratios})
    code = {label: k for k, label in enumerate(labels)}
    told = [one.reckoned for one in ratios]
    X = np.array([_row(row, parts, cords) for row in told])
    blocks: list[FixedBlock | RandomBlock] = [
        FixedBlock("level", [0], *priors.level),
        *(FixedBlock(part, [k], 0.0, priors.parts[part]) for k, part in enumerate(parts, start=1)),
    ]
    if cords:
        blocks.append(RandomBlock("cord", list(range(1 + len(parts), X.shape[1])), priors.cord))
    log = np.array([one.log for one in ratios])
    known_variance = np.array([row.unknown_sd**2 for row in told])
    whip_effect = AbsorbedFactor(
        [code[one.whip] for one in ratios],
        np.ones((len(ratios), 1)),
        ["whip"],
        {"whip": priors.whip},
        len(labels),
    )
    spread = max(1.4826 * float(np.median(np.abs(log - np.median(log)))), SPREAD_AT_LEAST)
    weight = _robust_weight((log - np.median(log)) / spread)
    for _ in range(ROUNDS):
        model = mixed_model(
            log,
            X,
            blocks,
            absorbed=whip_effect,
            weights=weight,
            known_variance=known_variance,
            residual_prior=priors.residual,
        )
        found = estimate(model)
        middle = posterior_at(model, found.sds)
        of = dict(zip(middle.component_names, middle.component_variances.tolist(), strict=True))
        off = log - X @ middle.coefficients
        weight = _robust_weight(off / np.sqrt(of["whip"] + of["residual"] + known_variance))
    posterior = averaged_posterior(model, draw_sds(model, found))
    variance = dict(zip(posterior.component_names, posterior.component_variances.tolist(), strict=True))
    return RatioCalibration(
        parts=parts,
        cords=cords,
        whips=len(labels),
        measurements=len(ratios),
        coefficients=posterior.coefficients,
        covariance=posterior.covariance,
        cord_variance=variance.get("cord", _mean_variance(priors.cord)),
        whip_variance=variance["whip"],
        residual_variance=variance["residual"],
    )


def _unlearnt(priors: RatioPriors) -> RatioCalibration:
    """What the priors alone say."""
    spreads = (priors.level[1], *priors.parts.values())
    return RatioCalibration(
        parts=tuple(priors.parts),
        cords=(),
        whips=0,
        measurements=0,
        coefficients=np.array([priors.level[0], *[0.0] * len(priors.parts)]),
        covariance=np.diag(np.square(spreads)),
        cord_variance=_mean_variance(priors.cord),
        whip_variance=_mean_variance(priors.whip),
        residual_variance=_mean_variance(priors.residual),
    )


def _row(reckoned: Reckoned, parts: Sequence[str], cords: Sequence[str]) -> list[float]:
    """Columns of one measurement: the level's share, each part's, each cord's."""
    by_part = [reckoned.parts.get(part, 0.0) for part in parts]
    by_cord = [reckoned.cords.get(cord, 0.0) for cord in cords]
    return [1.0 - math.fsum(reckoned.parts.values()), *by_part, *by_cord]


def _robust_weight(off: Floats) -> Floats:
    """Weight of a measurement that lies so many standard deviations off, under a Student t."""
    return np.asarray((FREEDOM + 1) / (FREEDOM + off**2))


def _mean_variance(prior: LogNormalPrior) -> float:
    """Mean of the variance under the prior: exp(2 log median + 2 log_sd^2)."""
    return float(prior.median**2 * math.exp(2 * prior.log_sd**2))
