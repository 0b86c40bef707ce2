"""Readings that do not fit the others: what was read, and what would fit."""

from typing import Final

import numpy as np

from plaitlog.models.calibration.observations import Suspect
from plaitlog.models.calibration.packed import Array
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.prepared import DOUBT
from plaitlog.models.calibration.readings import Readings

MOST: Final = 1000
"""Suspect readings listed with a fit, the worst of them where there are more."""


def suspects_of(
    data: Readings, weights: Array, residuals: Array, parameters: Parameters, first: int = 0
) -> tuple[Suspect, ...]:
    """Readings below ``suspect_weight``, from robust weights and residuals of log D (n,) both.

    first : number of the first reading of ``data`` among all that the fit holds.
    """
    own = weights * np.where(data.doubtful, DOUBT, 1.0)
    found = np.flatnonzero(own < parameters.suspect_weight)
    worst = np.sort(found[np.argsort(own[found], kind="stable")][:MOST])
    return tuple(
        Suspect(
            index=first + i,
            whip=data.whips[data.whip[i]],
            at_mm=None if np.isnan(data.at_mm[i]) else float(data.at_mm[i]),
            diameter_mm=float(data.diameter_mm[i]),
            fitting_mm=float(data.diameter_mm[i] * np.exp(-residuals[i])),
            residual_log=float(residuals[i]),
            weight=float(own[i]),
        )
        for i in worst.tolist()
    )
