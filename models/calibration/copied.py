"""Readings that were written twice: rows of a whip, and a whole page under two labels.

Rows are compared by a 64-bit digest of what they say; among a million rows two that differ share one with a
chance below 1 in 10^7.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.stack_columns import Index
from plaitlog.models.errors import Finding

Digests = NDArray[np.uint64]
COPIED: Final = 0.45
"""Share of a whip's readings that repeat another one where a page was copied: half of them, were it twice."""
FEW: Final = 3
LEAST_ALIKE: Final = 5
BY_CHANCE: Final = 6.0
"""Two whips made alike agree in a reading about 1 time in 7: irregularities of 1.2 per cent, calipers of
0.05 mm, read to 0.1 mm on 15 mm (physical reasoning). So many readings must agree that of all pairs of whips,
were they all made alike, fewer than one would by chance."""


def distinct(data: Readings) -> tuple[Index, Index, tuple[Finding, ...]]:
    """Rows that copy no other, for each row the place of its like among them, and remarks on copies.

    Two equal readings at one station are two readings: calipers held at right angles often agree. Where
    ``COPIED`` of a whip's readings equal another one, on as many layers and under the same conditions, its
    rows were written twice, and teach once. Whips that are alike in all their readings are only remarked.
    """
    everything: Index = np.arange(len(data))
    said = _digests(data)
    alike = _alike(data, said)
    rows = _mixed(said, data.whip.astype(np.float64))
    in_order = np.sort(rows)
    if not (in_order[1:] == in_order[:-1]).any():
        return everything, everything, alike
    _, first, number = np.unique(rows, return_index=True, return_inverse=True)
    like = first[number.reshape(-1)]
    more = like != everything
    counts = np.bincount(data.whip, minlength=len(data.whips))
    share = np.bincount(data.whip, more, len(data.whips)) / np.maximum(counts, 1)
    copied = np.flatnonzero(share >= COPIED)
    if not len(copied):
        return everything, everything, alike
    left_out = more & (share >= COPIED)[data.whip]
    order = np.flatnonzero(~left_out)
    place = np.searchsorted(order, np.where(left_out, like, everything))
    labels = ", ".join(data.whips[k] for k in copied[:FEW])
    text = f"the readings of {labels}{_rest(len(copied), 'whips')} are there more than once; each counts once"
    return order, place, (Finding("readings-twice", text, "remove the copies"), *alike)


def _alike(data: Readings, said: Digests) -> tuple[Finding, ...]:
    """A remark on whips that have as many readings, all at the same stations and of the same sizes."""
    if not len(data):
        return ()
    order = None if (data.whip[1:] >= data.whip[:-1]).all() else np.argsort(data.whip, kind="stable")
    whip, rows = (data.whip, said) if order is None else (data.whip[order], said[order])
    starts = np.concatenate([[0], np.flatnonzero(whip[1:] != whip[:-1]) + 1])
    counts = np.diff([*starts.tolist(), len(whip)])
    pairs = len(starts) ** 2 / 2
    least = max(LEAST_ALIKE, math.ceil(math.log(pairs) / math.log(BY_CHANCE)))
    pages = np.add.reduceat(rows, starts)  # does not depend on the order of a page
    candidates = np.flatnonzero(counts >= least)
    _, first, number, times = np.unique(
        pages[candidates], return_index=True, return_inverse=True, return_counts=True
    )
    first_of = first[number.reshape(-1)]
    copies = np.flatnonzero((times[number.reshape(-1)] > 1) & (first_of != np.arange(len(candidates))))
    if not len(copies):
        return ()
    whips = whip[starts[candidates]]
    shown = [(data.whips[whips[k]], data.whips[whips[first_of[k]]]) for k in copies[:FEW]]
    told = "; ".join(f"{copy} as {original}" for copy, original in shown)
    text = f"the same readings stand on two whips: {told}{_rest(len(copies), 'pairs')}"
    return (Finding("readings-copied", text, "remove the copy, or leave it if both were measured"),)


def _rest(count: int, noun: str) -> str:
    return f" and {count - FEW} more {noun}" if count > FEW else ""


def _digests(data: Readings) -> Digests:
    """What each row says beside its whip (n,); a row whose station is not noted equals no other."""
    layers = np.bincount(data.stacks.layer_row, minlength=len(data))
    noted = np.isfinite(data.at_mm)
    place = np.where(noted, data.at_mm + 0.0, np.arange(len(data)))
    codes = (((data.condition + 2.0) * 1e3 + data.method) * 4 + data.inner * 2 + data.doubtful) * 2 + noted
    digest = np.zeros(len(data), dtype=np.uint64)
    for column in (place, data.diameter_mm, layers + codes * 1e3):
        digest = _mixed(digest, column)
    return digest


def _mixed(digest: Digests, column: NDArray[np.float64]) -> Digests:
    """One more column in every digest: the finaliser of MurmurHash3, whose every bit moves every other
    (constants from memory)."""
    mixed = digest * np.uint64(0x9E3779B97F4A7C15) + np.ascontiguousarray(column, np.float64).view(np.uint64)
    for factor in (0xFF51AFD7ED558CCD, 0xC4CEB9FE1A85EC53):
        mixed ^= mixed >> np.uint64(33)
        mixed *= np.uint64(factor)
    mixed ^= mixed >> np.uint64(33)
    return mixed
