"""How far apart strands are dropped: per layer, and whether the drops spread or close up along the thong.

Each part of a thong is thinned by the innermost layer that still runs: the core to its end, from there the
belly, from there the overlay. These governing drops make the taper; drops of a layer outside of them only
keep its plait tight, so they count in that layer's mean spacing and not in the trend. Stations in mm from the
thick end of the thong.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.whip import Layer, Place, Whip

PLACE_SD: Final = 2.0
"""Sd in mm of a place read off a tape to a quarter of an inch (a uniform error: 6.35 / sqrt(12))."""
LEAST_GAPS: Final = 3
"""Gaps between drops from which a trend is told (own choice)."""


@dataclass(frozen=True, slots=True)
class LayerDrops:
    """Drops of one layer: ``slot`` from 1 innermost, stations in mm with their sds, rising."""

    slot: int
    role: str
    at_mm: tuple[float, ...]
    sd_mm: tuple[float, ...]
    end_mm: float | None

    @property
    def spacing(self) -> Estimate | None:
        """Mean distance between neighbouring drops, mm; None below two drops."""
        gaps = len(self.at_mm) - 1
        if gaps < 1:
            return None
        sd = math.hypot(self.sd_mm[0], self.sd_mm[-1]) / gaps
        return Estimate.of((self.at_mm[-1] - self.at_mm[0]) / gaps, sd, "recorded")


def drops_of(whip: Whip) -> tuple[LayerDrops, ...]:
    """Drops of every layer whose strands are noted; places of ``whip`` count from its handle end.

    A drop whose place is not noted is passed over with all that follow it. ``end_mm``: where the layer ends,
    the thong's length where it runs to the point, None where that is not noted.
    """
    return tuple(
        _drops(slot, layer, whip.thong_length_mm)
        for slot, layer in enumerate(whip.layers, start=1)
        if layer.schedule is not None and layer.schedule.steps
    )


def _drops(slot: int, layer: Layer, length_mm: float | None) -> LayerDrops:
    assert layer.schedule is not None
    places: list[Place] = []
    complete = True
    for before, after in pairwise(layer.schedule.steps):
        if after.place.kind == "not noted":
            complete = False
            break
        if after.total.mid < before.total.mid and (length_mm is None or after.place.mid_mm < length_mm):
            places.append(after.place)
    return LayerDrops(
        slot,
        layer.role,
        tuple(place.mid_mm for place in places),
        tuple(math.hypot(PLACE_SD, (place.high_mm - place.low_mm) / math.sqrt(12)) for place in places),
        layer_end_mm(layer, length_mm) if complete else None,
    )


def layer_end_mm(layer: Layer, length_mm: float | None) -> float | None:
    """Where a layer ends, at most at the point; None where that is not noted."""
    if layer.schedule is None or not layer.schedule.steps:
        sized = layer.diameter_mm is not None or layer.thickness_mm is not None
        end = (length_mm if layer.to_mm is None else layer.to_mm) if sized else None
    else:
        last = layer.schedule.steps[-1]
        if last.total.high == 0:
            end = None if last.place.kind == "not noted" else last.place.mid_mm
        else:
            end = length_mm if layer.schedule.rest == "point" else None
    return end if end is None or length_mm is None else min(end, length_mm)


def spacing_trend(drops: Sequence[LayerDrops]) -> Estimate | None:
    """Logarithm of the last gap over the first among governing drops: 0 where they are evenly spaced.

    The least-squares slope of the logarithm of the gaps over their order in the layer, from -1/2 to 1/2, one
    slope and a level for each layer. None below three gaps.
    """
    top = bottom = spread = 0.0
    gaps_in_all = 0
    begins = 0.0
    for layer in drops:
        at = np.array([x for x in layer.at_mm if x >= begins])
        sd = np.array([s for x, s in zip(layer.at_mm, layer.sd_mm, strict=True) if x >= begins])
        if layer.end_mm is not None:
            begins = max(begins, layer.end_mm)
        gaps = np.diff(at)
        gaps, noise = gaps[gaps > 0], np.hypot(sd[1:], sd[:-1])[gaps > 0]
        if len(gaps) < 2:
            continue
        order = (np.arange(len(gaps)) + 0.5) / len(gaps) - 0.5
        top += float(order @ np.log(gaps))
        bottom += float(order @ order)
        spread += float(order**2 @ (noise / gaps) ** 2)
        gaps_in_all += len(gaps)
    if gaps_in_all < LEAST_GAPS:
        return None
    return Estimate.of(top / bottom, math.sqrt(spread) / bottom, "recorded")
