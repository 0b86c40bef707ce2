"""What a regression of measured over reckoned is worth: whips left out in turn, beside two plain ways."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.calibration.observations import SLIP
from plaitlog.models.calibration.ratios import Ratio, RatioPriors, fit_ratios

FOLDS: Final = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioEvidence:
    """Measurements of whips that were left out: root mean square of log errors, and coverage.

    model : of the regression. reckoned : of the reckoning alone. mean_ratio : of the reckoning times the mean
    ratio of the other whips. coverage_90 : share inside the 90 % interval. slips : measurements that none of
    the three came near, left out of all figures.
    """

    whips: int
    measurements: int
    model: float
    reckoned: float
    mean_ratio: float
    coverage_90: float
    slips: int = 0


def ratio_evidence(ratios: Sequence[Ratio], priors: RatioPriors) -> RatioEvidence | None:
    """Whips left out in turn, a tenth of them at a time, beside the two plain ways to reckon.

    None with fewer than three whips: nothing can be said then.
    """
    labels = sorted({one.whip for one in ratios})
    if len(labels) < 3:
        return None
    folds = min(FOLDS, len(labels))
    fold_of = {label: k % folds for k, label in enumerate(labels)}
    errors: list[tuple[float, float, float, bool]] = []
    for fold in range(folds):
        known = [one for one in ratios if fold_of[one.whip] != fold]
        fit = fit_ratios(known, priors)
        mean = float(np.mean([one.log for one in known]))
        for one in ratios:
            if fold_of[one.whip] == fold:
                found = fit.expect(one.reckoned)
                held = found.low_90 <= one.measured <= found.high_90
                errors.append((math.log(one.measured / found.value), one.log, one.log - mean, held))
    table = np.array(errors, dtype=np.float64)
    sound = np.min(np.abs(table[:, :3]), axis=1) <= SLIP
    if not sound.any():
        return None
    table = table[sound]
    model, alone, mean_ratio = np.sqrt(np.mean(table[:, :3] ** 2, axis=0)).tolist()
    return RatioEvidence(
        whips=len(labels),
        measurements=len(table),
        model=model,
        reckoned=alone,
        mean_ratio=mean_ratio,
        coverage_90=float(table[:, 3].mean()),
        slips=len(errors) - len(table),
    )
