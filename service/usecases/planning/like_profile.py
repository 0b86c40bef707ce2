"""The profile of a recorded whip as it was measured, smoothed so that it never follows noise."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.taper import Array
from plaitlog.models.whip import Fate, Layer, Place, Reading, Whip
from plaitlog.service.usecases.observing import is_inner
from plaitlog.service.usecases.places import placed, thick_end_mm

LEAST_STATIONS: Final = 3
DOUBTFUL_WEIGHT: Final = 0.25
"""Of a reading that the maker doubts (own choice)."""

FAR_OFF: Final = 1.25
"""No thong is so much thicker, or thinner, at one station than at both neighbours (own choice: a tuck makes a
tenth)."""


@dataclass(frozen=True, slots=True)
class MeasuredProfile:
    """Diameters in mm at stations in mm from the thick end of the thong, never rising towards the point.

    passed_over_mm : stations whose readings are taken for slips.
    """

    stations_mm: Array
    diameters_mm: Array
    length_mm: float
    passed_over_mm: tuple[float, ...] = ()

    def diameter_mm(self, at_mm: Array, length_mm: float) -> Array:
        """At stations of a thong of another length: in proportion; level beyond the first and the last."""
        return np.interp(at_mm * self.length_mm / length_mm, self.stations_mm, self.diameters_mm)


def measured_profile(whip: Whip) -> MeasuredProfile:
    """The falling profile that comes nearest to the readings of the finished thong (isotonic regression).

    Raises
    ------
    StackNotKnownError
        Where the thong's length is not noted, or it was measured at fewer than three stations.
    """
    from sklearn.isotonic import IsotonicRegression

    length, start = whip.thong_length_mm, thick_end_mm(whip)
    if length is None or start is None:
        raise _too_little(whip, "its lengths are not noted", "note thong and handle length")
    by_station: dict[float, list[Reading]] = defaultdict(list)
    for one in placed(whip).readings:
        if one.at_mm is not None and not is_inner(whip, one.after_layer) and 0 <= one.at_mm - start <= length:
            by_station[one.at_mm - start].append(one)
    if len(by_station) < LEAST_STATIONS:
        raise _too_little(
            whip,
            f"the finished thong was measured at {len(by_station)} stations",
            f"measure it at {LEAST_STATIONS} at least, or give a target in numbers",
        )
    stations = sorted(by_station)
    weights = [[DOUBTFUL_WEIGHT if one.doubtful else 1.0 for one in by_station[at]] for at in stations]
    means = [
        np.average([one.size_mm for one in by_station[at]], weights=weight)
        for at, weight in zip(stations, weights, strict=True)
    ]
    slips = _slips(means)
    kept = [k for k in range(len(stations)) if k not in slips]
    falling = IsotonicRegression(increasing=False).fit_transform(
        [stations[k] for k in kept],
        [means[k] for k in kept],
        sample_weight=[sum(weights[k]) for k in kept],
    )
    return MeasuredProfile(
        np.array([stations[k] for k in kept]),
        np.asarray(falling, dtype=np.float64),
        length,
        tuple(stations[k] for k in slips),
    )


def _slips(means: Sequence[float]) -> list[int]:
    """Stations that stand out from both of their neighbours, thicker or thinner: a girth typed as a diameter
    would lift the profile all the way to the thick end. Too few stations are all kept."""
    found = [
        k
        for k in range(1, len(means) - 1)
        if means[k] > FAR_OFF * max(means[k - 1], means[k + 1])
        or means[k] * FAR_OFF < min(means[k - 1], means[k + 1])
    ]
    return found if len(means) - len(found) >= LEAST_STATIONS else []


def scaled_fate(fate: Fate | None, factor: float) -> Fate | None:
    """A run on inside ends in proportion; a tuck is as long in any whip."""
    if fate is None or fate.until_mm is None:
        return fate
    return replace(fate, until_mm=fate.until_mm * factor)


def scaled(layer: Layer, factor: float) -> Layer:
    """The layer with all its places along the thong times ``factor``."""

    def at(mm: float | None) -> float | None:
        return None if mm is None else mm * factor

    schedule = layer.schedule
    if schedule is not None:
        steps = tuple(
            replace(
                one,
                place=Place(one.place.low_mm * factor, one.place.high_mm * factor, one.place.kind),
                fate=scaled_fate(one.fate, factor),
            )
            for one in schedule.steps
        )
        schedule = replace(schedule, steps=steps)
    return replace(
        layer,
        schedule=schedule,
        fate=scaled_fate(layer.fate, factor),
        from_mm=at(layer.from_mm),
        to_mm=at(layer.to_mm),
        typed={},
    )


def _too_little(whip: Whip, what: str, remedy: str) -> StackNotKnownError:
    return StackNotKnownError(Finding("profile-unknown", f"{whip.label}: {what}", remedy, "target"))
