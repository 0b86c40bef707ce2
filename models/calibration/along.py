"""Diameters along one whip together: what is uncertain about one station is mostly so about the next."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.one_thread import one_thread
from plaitlog.models.calibration.packed import Array
from plaitlog.models.calibration.prediction import covariance_of, gain_of, rows_of
from plaitlog.models.stack import Stack

AT_ONCE: Final = 100
"""Whips worked out together: their rows stay in the processor's cache."""
OWN_IN_COMMON: Final = 0.5
"""How far what a stack has of its own (a count noted as a range, geometry that no whip has shown) is shared
by the other stacks of the whip. Own choice: neighbouring stacks hold the same layers, distant ones do not."""


@dataclass(frozen=True, slots=True)
class Thong:
    """Stacks along one whip, each at its station (mm), and the readings taken on that whip."""

    stacks: tuple[Stack, ...]
    at_mm: tuple[float, ...]
    maker: str | None = None
    readings: tuple[Observation, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Along:
    """Median diameters (mm) at the stations, and the covariance of their logarithms: of the smooth diameter,
    without the local irregularity of a plait."""

    diameter_mm: Array
    covariance: Array


def predict_along(calibration: Calibration, thongs: Sequence[Thong]) -> list[Along]:
    """Diameters along each thong; readings of a whip condition its own effects, as in ``predict``."""
    found: list[Along] = []
    with one_thread():
        for first in range(0, len(thongs), AT_ONCE):
            found += _predict(calibration, thongs[first : first + AT_ONCE])
    return found


def _predict(calibration: Calibration, thongs: Sequence[Thong]) -> list[Along]:
    stacks = [
        (stack, at, thong) for thong in thongs for stack, at in zip(thong.stacks, thong.at_mm, strict=True)
    ]
    taken = [(reading, thong) for thong in thongs for reading in thong.readings]
    asked = len(stacks)
    rows = rows_of(
        calibration,
        calibration.columns,
        [stack for stack, _, _ in stacks] + [reading.stack for reading, _ in taken],
        [thong.maker for _, _, thong in stacks] + [thong.maker for _, thong in taken],
        [None] * asked + [reading.condition for reading, _ in taken],
        ["caliper"] * asked + [reading.method for reading, _ in taken],
        [False] * asked + [reading.inner for reading, _ in taken],
        [at for _, at, _ in stacks] + [reading.at_mm for reading, _ in taken],
    )
    found: list[Along] = []
    here, there = 0, asked
    for thong in thongs:
        own = np.arange(here, here + len(thong.stacks))
        given = np.arange(there, there + len(thong.readings))
        here, there = here + len(own), there + len(given)
        mean = rows.mean[own]
        covariance = covariance_of(calibration, rows, own, own)
        if len(given):
            measured = np.log([reading.diameter_mm for reading in thong.readings])
            doubt = np.array([4.0 if reading.doubtful else 1.0 for reading in thong.readings])
            gain, across, miss = gain_of(calibration, rows, own, given, measured, doubt)
            mean = mean + gain @ miss
            covariance = covariance - gain @ across.T
        sd = np.sqrt(np.maximum(rows.own_variance[own], 0.0))
        covariance = covariance + OWN_IN_COMMON * np.outer(sd, sd) + (1 - OWN_IN_COMMON) * np.diag(sd**2)
        scale = calibration.scale_rest if len(given) else _scale(calibration, thong)
        found.append(Along(np.exp(mean), covariance * scale**2))
    return found


def _scale(calibration: Calibration, thong: Thong) -> float:
    """Correction of intervals where nothing is measured yet: the wider one where some cord is new."""
    known = set(calibration.cords)
    new = any(cord.name not in known for stack in thong.stacks for cord in stack.cords)
    return max(calibration.scale_known, calibration.scale_new) if new else calibration.scale_known
