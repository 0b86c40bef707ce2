"""One number by which stored numbers are recognised after loading."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from plaitlog.models.calibration.packed import Array

TOLERANCE: Final = 1e-8
"""Largest relative mismatch; rounding of the same sums stays below 1e-12."""


def check_sum(parts: Sequence[Array]) -> float:
    """A number that moves with every element of every part, and with their order."""
    values = np.concatenate([part.ravel() for part in parts])
    return float(np.sum(values * (1.5 + np.cos(np.arange(len(values))))))


def agrees(found: float, stored: float) -> bool:
    """Whether a number worked out again is the stored one."""
    return abs(found - stored) <= TOLERANCE * max(1.0, abs(stored))
