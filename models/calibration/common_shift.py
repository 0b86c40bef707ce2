"""Whether whips come out thicker, or thinner, than a fit expects, all of them together.

Each whip is one unit: its readings share its pull, so a hundred of them say little more than ten. With m the
whips' mean residuals of log diameter and V their covariance under the fit (what it does not know of cords is
shared between whips), the shift is (1'V^-1 m) / (1'V^-1 1); the spread of m about it scales V, and the shift
over its error follows Student's t with one degree of freedom less than whips (generalised least squares).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.linalg import solve_triangular
from scipy.stats import t as student

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.gain import covariance_of_readings
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.packed import Array

FEWEST: Final = 3
"""Whips without which a spread between them cannot be told."""


@dataclass(frozen=True, slots=True)
class WhipOff:
    """How far the readings of a whip are off on the average, as a natural logarithm (> 0: thicker)."""

    whip: str
    readings: int
    off_log: float


@dataclass(frozen=True, slots=True)
class CommonShift:
    """shift_log with its 95 % interval; p_value : how often chance alone shows as much. middle_mm : the
    geometric mean of the readings, at which the shift may be told in mm."""

    whips: tuple[WhipOff, ...]
    shift_log: float
    low_95_log: float
    high_95_log: float
    p_value: float
    middle_mm: float

    @property
    def shift_mm(self) -> float:
        """The shift at ``middle_mm``."""
        return self.middle_mm * float(-np.expm1(-self.shift_log))


def common_shift(calibration: Calibration, observations: Sequence[Observation]) -> CommonShift | None:
    """The shift that all these whips have in common; they must not be part of the fit.

    None below three whips. A reading far off the others of its whip counts less (Student-t weights).
    """
    labels = list(dict.fromkeys(one.whip for one in observations))
    if len(labels) < FEWEST:
        return None
    mean, covariance, noise = covariance_of_readings(calibration, observations)
    residual = np.log([one.diameter_mm for one in observations]) - mean
    whip = np.array([labels.index(one.whip) for one in observations])
    freedom = calibration.model_parameters.freedom
    weights = np.zeros((len(labels), len(residual)))
    for k in range(len(labels)):
        own = np.flatnonzero(whip == k)
        away = residual[own] - np.median(residual[own])
        weight = (freedom + 1) / (freedom + away**2 / noise[own]) / noise[own]
        weights[k, own] = weight / weight.sum()
    off = weights @ residual
    shift, error = _generalised_mean(off, weights @ covariance @ weights.T)
    free = len(labels) - 1
    reach = float(student.ppf(0.975, free)) * error
    return CommonShift(
        whips=tuple(WhipOff(label, int((whip == k).sum()), float(off[k])) for k, label in enumerate(labels)),
        shift_log=shift,
        low_95_log=shift - reach,
        high_95_log=shift + reach,
        p_value=float(2 * student.sf(abs(shift) / error, free)),
        middle_mm=float(np.exp(np.mean(np.log([one.diameter_mm for one in observations])))),
    )


def _generalised_mean(values: Array, covariance: Array) -> tuple[float, float]:
    """Mean and its standard error; the covariance is taken as known but for its scale."""
    lower = np.linalg.cholesky(covariance)
    white = solve_triangular(lower, values, lower=True)
    ones = solve_triangular(lower, np.ones(len(values)), lower=True)
    mean = float(ones @ white / (ones @ ones))
    left = white - mean * ones
    # Readings that agree beyond belief still leave the error of a caliper.
    scale = max(float(left @ left) / (len(values) - 1), 1e-6)
    return mean, float(np.sqrt(scale / (ones @ ones)))
