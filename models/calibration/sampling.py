"""Seeded samples of whips: any of them, or clusters that share few cords."""

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.packed import Index
from plaitlog.models.calibration.readings import Readings


def sample_of_whips(data: Readings, size: int, random_state: int) -> Index:
    """Whips (positions in ``data.whips``) drawn without replacement until they hold ``size`` readings."""
    counts = np.bincount(data.whip, minlength=len(data.whips))
    order = np.random.default_rng(random_state).permutation(np.flatnonzero(counts))
    return np.sort(order[: int(np.searchsorted(np.cumsum(counts[order]), size)) + 1])


def clusters_of_whips(
    data: Readings, clusters: int, size: int, most_cords: int, random_state: int
) -> list[Index]:
    """Sets of whips of about ``size`` readings each, that hold few cords together.

    Each begins with a random whip; the cord that most of its whips' neighbours lack is taken in until the
    whips made of these cords alone are enough, or ``most_cords`` are reached.
    """
    rng = np.random.default_rng(random_state)
    counts = np.bincount(data.whip, minlength=len(data.whips))
    holds = _cords_of_whips(data)
    present = np.flatnonzero(counts)
    found: list[Index] = []
    for _ in range(clusters):
        cords = holds[rng.choice(present)].copy()
        while True:
            inside = np.flatnonzero((counts > 0) & ~(holds & ~cords).any(axis=1))
            if counts[inside].sum() >= size or cords.sum() >= most_cords or cords.all():
                break
            lacking = holds & ~cords
            nearly = (lacking.sum(axis=1) == 1) & (holds & cords).any(axis=1)
            wanted = (lacking[nearly] if nearly.any() else lacking).sum(axis=0)
            cords[int(np.argmax(wanted))] = True
        chosen = rng.permutation(inside)
        found.append(np.sort(chosen[: int(np.searchsorted(np.cumsum(counts[chosen]), size)) + 1]))
    return found


def _cords_of_whips(data: Readings) -> NDArray[np.bool_]:
    """Whether each whip holds each cord (whips, cords)."""
    stacks = data.stacks
    holds = np.zeros((len(data.whips), len(stacks.cords)), dtype=bool)
    holds[data.whip[stacks.group_row], stacks.group_cord] = True
    return holds
