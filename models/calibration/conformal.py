"""Interval widths corrected by held-out readings, group by group, and never by hand."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from plaitlog.models.calibration.observations import Z90
from plaitlog.models.calibration.packed import Array

FEWEST_GROUPS: Final = 9
"""Of fewer than nine groups none can stand for the tenth that a 90 % interval leaves out."""
SHRINKAGE_GROUPS: Final = 20.0
"""Groups at which half of the correction is believed. The 0.9 quantile of |z| of normal readings, one per
group, has a relative variance of 0.78 / groups (0.09 over the squared density 0.206 and the squared quantile
1.645); intervals of a sound model are taken to be off by 20 % (own judgement), 0.04; 0.78 / 0.04 = 20."""


def interval_scale(z: Array, groups: Sequence[str]) -> float:
    """Factor for interval widths, from held-out standardised errors z (n,) and the group of each.

    The quantile of |z| that covers 90 %, every group counting alike, over that of a normal distribution;
    shrunk towards 1 by groups / (groups + 20). With fewer than nine groups it is 1.
    """
    names, codes, sizes = np.unique(np.array(groups), return_inverse=True, return_counts=True)
    if len(names) < FEWEST_GROUPS:
        return 1.0
    order = np.argsort(np.abs(z))
    reached = np.cumsum(1.0 / sizes[codes[order]]) / (len(names) + 1)
    place = min(int(np.searchsorted(reached, 0.9)), len(z) - 1)
    factor = np.abs(z)[order][place] / Z90
    believed = len(names) / (len(names) + SHRINKAGE_GROUPS)
    return float(np.exp(believed * np.log(max(factor, 1e-3))))


def scales_without_own_group(z: Array, groups: Sequence[str]) -> Array:
    """For every entry the factor that the other groups give, (n,): an honest way to judge the correction."""
    names = np.array(groups)
    scales = np.ones(len(z))
    for name in np.unique(names):
        own = names == name
        scales[own] = interval_scale(z[~own], names[~own].tolist())
    return scales
