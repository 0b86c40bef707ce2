"""Regression of weights on geometry: log(weight / geometry) with an intercept, cord and whip effects."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from plaitlog.models.calibration.mixed.draws import averaged_posterior, draw_sds
from plaitlog.models.calibration.mixed.estimation import estimate
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    FixedBlock,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.observations import Z90

LEVEL_SD: Final = 0.15
"""Prior sd of the common log ratio. Physical reasoning: angle, crimp and stretch together, 15 per cent."""
CORD_PRIOR: Final = LogNormalPrior(0.06, 0.7)
"""Between cords. Physical reasoning: densities from a caliper or a label err by several per cent."""
WHIP_PRIOR: Final = LogNormalPrior(0.03, 0.7)
"""Between whips of the same cords. Physical reasoning: a hand's pull changes the path by a few per cent."""
RESIDUAL_PRIOR: Final = LogNormalPrior(0.01, 0.7)
"""Of one weighing. Physical reasoning: a kitchen scale reads to 1 or 2 g in a few hundred."""
FOLDS: Final = 10


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weight with what geometry says; ``shares``: each cord's share of the mass by geometry.

    ``unknown_sd`` is the sd in log weight of what lay on the scale and is not in the geometry.
    """

    whip: str
    weight_g: float
    geometry_g: float
    shares: Mapping[str, float]
    unknown_sd: float = 0.0


@dataclass(frozen=True, slots=True)
class WeightPrediction:
    weight_g: float
    low_90_g: float
    high_90_g: float


@dataclass(frozen=True)
class WeightCalibration:
    """Moments of the level and of each cord's effect (that order), and the variances of what is new."""

    cords: tuple[str, ...]
    whips: int
    coefficients: npt.NDArray[np.float64]
    covariance: npt.NDArray[np.float64]
    cord_variance: float
    whip_variance: float
    residual_variance: float

    def predict(
        self, geometry_g: float, shares: Mapping[str, float], unknown_sd: float = 0.0
    ) -> WeightPrediction:
        """Weight of a whip not yet weighed, with its 90 % interval for one weighing.

        A cord never weighed gets the variance between cords.
        """
        if not geometry_g > 0:
            raise ValueError(f"geometry_g must be above 0, got {geometry_g}")
        row = np.array([1.0, *(shares.get(cord, 0.0) for cord in self.cords)])
        new = sum(share**2 for cord, share in shares.items() if cord not in self.cords)
        variance = row @ self.covariance @ row + new * self.cord_variance
        variance += self.whip_variance + self.residual_variance + unknown_sd**2
        mean, reach = float(row @ self.coefficients), Z90 * math.sqrt(variance)
        return WeightPrediction(
            geometry_g * math.exp(mean),
            geometry_g * math.exp(mean - reach),
            geometry_g * math.exp(mean + reach),
        )


@dataclass(frozen=True, slots=True)
class WeightEvidence:
    """Root mean square of log errors on whips left out, and how often the 90 % interval held."""

    weighings: int
    model: float
    geometry_alone: float
    mean_ratio: float
    coverage_90: float


def fit_weights(weighings: Sequence[Weighing]) -> WeightCalibration:
    """The calibration from all weighings; with none, the priors alone."""
    if not weighings:
        square = [prior.median**2 * math.exp(2 * prior.log_sd**2) for prior in
                  (CORD_PRIOR, WHIP_PRIOR, RESIDUAL_PRIOR)]  # fmt: skip
        return WeightCalibration((), 0, np.zeros(1), np.array([[LEVEL_SD**2]]), *square)
    cords = tuple(sorted({cord for one in weighings for cord in one.shares}))
    labels = sorted({one.whip for one in weighings})
    code = {label: k for k, label in enumerate(labels)}
    X = np.array([[1.0, *(one.shares.get(cord, 0.0) for cord in cords)] for one in weighings])
    blocks: list[FixedBlock | RandomBlock] = [FixedBlock("level", [0], 0.0, LEVEL_SD)]
    if cords:
        blocks.append(RandomBlock("cord", list(range(1, X.shape[1])), CORD_PRIOR))
    model = mixed_model(
        [math.log(one.weight_g / one.geometry_g) for one in weighings],
        X,
        blocks,
        absorbed=AbsorbedFactor(
            [code[one.whip] for one in weighings],
            np.ones((len(weighings), 1)),
            ["whip"],
            {"whip": WHIP_PRIOR},
            len(labels),
        ),
        known_variance=[one.unknown_sd**2 for one in weighings],
        residual_prior=RESIDUAL_PRIOR,
    )
    posterior = averaged_posterior(model, draw_sds(model, estimate(model)))
    variance = dict(zip(posterior.component_names, posterior.component_variances.tolist(), strict=True))
    return WeightCalibration(
        cords,
        len(labels),
        posterior.coefficients,
        posterior.covariance,
        variance.get("cord", CORD_PRIOR.median**2),
        variance["whip"],
        variance["residual"],
    )


def weight_evidence(weighings: Sequence[Weighing]) -> WeightEvidence | None:
    """Cross-validation by whip (at most ten folds) beside geometry alone and the mean ratio.

    None with fewer than three whips: nothing can be said then.
    """
    labels = sorted({one.whip for one in weighings})
    if len(labels) < 3:
        return None
    folds = min(FOLDS, len(labels))
    fold_of = {label: k % folds for k, label in enumerate(labels)}
    errors: list[tuple[float, float, float, bool]] = []
    for fold in range(folds):
        known = [one for one in weighings if fold_of[one.whip] != fold]
        fit = fit_weights(known)
        ratio = float(np.mean([math.log(one.weight_g / one.geometry_g) for one in known]))
        for one in weighings:
            if fold_of[one.whip] == fold:
                found = fit.predict(one.geometry_g, one.shares, one.unknown_sd)
                plain = math.log(one.weight_g / one.geometry_g)
                held = found.low_90_g <= one.weight_g <= found.high_90_g
                errors.append((math.log(one.weight_g / found.weight_g), plain, plain - ratio, held))
    table = np.array(errors, dtype=np.float64)
    model, alone, mean = np.sqrt(np.mean(table[:, :3] ** 2, axis=0)).tolist()
    return WeightEvidence(len(errors), model, alone, mean, float(table[:, 3].mean()))
