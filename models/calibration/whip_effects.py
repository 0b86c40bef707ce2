"""What a whip has of its own: its pull, its drift along the thong, each layer's pull; spans of counts."""

import numpy as np

from plaitlog.models.calibration.design import Design
from plaitlog.models.calibration.packed import ABSENT, PLAIT, Array, PackedStacks


def whip_columns(packed: PackedStacks, design: Design, at_mm: Array, slots: int) -> Array:
    """Columns (n, 2 + slots) of a whip's own effects: pull, drift per metre of thong, each slot's pull.

    at_mm is NaN where the station is not known (no drift then); drift is counted from 500 mm. Slots from
    ``slots`` on share the last column.
    """
    metres = np.where(np.isfinite(at_mm), (np.nan_to_num(at_mm) - 500.0) / 1000.0, 0.0)
    columns = np.zeros((len(packed), 2 + slots))
    columns[:, 0] = design.resolved.pulled
    columns[:, 1] = design.resolved.pulled * metres
    slot = np.clip(packed.slot, 1, slots) + 1
    present = (packed.kind > ABSENT) & (packed.kind <= PLAIT)
    rows, layers = np.nonzero(present)
    np.add.at(columns, (rows, slot[rows, layers]), design.response[rows, layers])
    return columns


def count_variance(packed: PackedStacks, design: Design, gamma: float) -> Array:
    """Variance (n,) of log D from counts given as spans: (J e)^2 var(n) / n^2, summed over layers.

    e is 1 for a bundle and 1 - gamma for a plait, whose width grows with its strands.
    """
    response = design.response * np.where(packed.kind == PLAIT, 1.0 - gamma, 1.0)
    relative = packed.count_variance / np.maximum(packed.count, 1.0) ** 2
    total: Array = np.sum(response**2 * relative, axis=1)
    return total
