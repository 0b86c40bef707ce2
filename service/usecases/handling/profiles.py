"""Profiles of recorded whips: from the readings of the finished thong, and as the fit expects them."""

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.calibration.along import Thong, predict_along
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.handling.drop_spacing import LayerDrops
from plaitlog.models.handling.profile import Profile
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import CONDITIONS, UNSTATED_CONDITION, Condition, Cord, Reading, Whip
from plaitlog.service.usecases.observing import is_inner, observe

NEAR_DROP_MM: Final = 20.0
"""A reading this near to a drop may stand on the lump that it leaves (common practice, no source)."""
NEAR_DROP_DOUBT: Final = 4.0
"""How many times the variance of its noise such a reading is given (own choice)."""
SHARED: Final = 0.5
"""Share of a reading's scatter that a second one at the same station has too. Physical reasoning: what the
plait is there is shared, what is not round is not."""
TAPE_SD_MM: Final = 0.2
"""Sd of a diameter from a girth: half a mm on the tape (own judgement)."""
STATIONS: Final = np.linspace(0.005, 0.995, 21)
"""Where a thong is predicted, as shares of its length (own choice)."""
LEAST_SCATTER: Final = 0.01
"""Sd of a predicted diameter about a smooth shape, as a share of it: a thong falls in steps (own choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """What a thong's readings give. profile : None where there are none. left_out : by reason, in words.

    condition : the one they were taken in.
    """

    profile: Profile | None
    stations: int
    condition: str
    left_out: Mapping[str, int]

    @property
    def words(self) -> str:
        """What it rests on, such as "readings at 9 stations, rolled (2 left out: 1 doubtful, ...)"."""
        found = f"readings at {self.stations} station{'s' if self.stations != 1 else ''}, {self.condition}"
        if self.left_out:
            reasons = ", ".join(f"{number} {reason}" for reason, number in self.left_out.items())
            found += f" (left out: {reasons})"
        return found


def measured(whip: Whip, drops: Sequence[LayerDrops], calibration: Calibration) -> Readings:
    """The profile that readings of the finished thong give; places of ``whip`` count from its handle end.

    Doubtful readings, those of inner layers and those without a station are left out, and of several
    conditions all but the one with most stations: a plait is thinner once it is rolled or broken in.
    """
    length = whip.thong_length_mm
    left_out: Counter[str] = Counter()
    by_condition: dict[Condition, dict[float, list[Reading]]] = defaultdict(lambda: defaultdict(list))
    for one in whip.readings:
        if is_inner(whip, one.after_layer):
            continue
        if one.doubtful:
            left_out["doubtful"] += 1
        elif one.at_mm is None:
            left_out["at a place that is not known"] += 1
        elif length is None or not 0 <= one.at_mm <= length:
            left_out["not on the thong"] += 1
        else:
            by_condition[one.condition or UNSTATED_CONDITION][one.at_mm].append(one)
    if length is None or not by_condition:
        return Readings(None, 0, UNSTATED_CONDITION, left_out)
    most = max(by_condition, key=lambda name: (len(by_condition[name]), CONDITIONS.index(name)))
    for name, others in by_condition.items():
        if name != most:
            left_out[f"when {name}"] += sum(map(len, others.values()))
    near = [at for layer in drops for at in layer.at_mm]
    stations = sorted(by_condition[most])
    sizes = [
        math.fsum(one.size_mm for one in by_condition[most][at]) / len(by_condition[most][at])
        for at in stations
    ]
    scatter = [
        _scatter(by_condition[most][at], size, calibration)
        for at, size in zip(stations, _medians(sizes), strict=True)
    ]
    doubt = [
        NEAR_DROP_DOUBT if any(abs(at - drop) < NEAR_DROP_MM for drop in near) else 1.0 for at in stations
    ]
    profile = Profile(
        length,
        np.array(stations),
        np.array(sizes),
        np.array(scatter) * np.sqrt(doubt),
    )
    return Readings(profile, len(stations), most, left_out)


def _medians(sizes: Sequence[float]) -> list[float]:
    """The median of each diameter and its neighbours: what it is about, whatever was mistyped."""
    return [float(np.median(sizes[max(k - 1, 0) : k + 2])) for k in range(len(sizes))]


def _scatter(readings: Sequence[Reading], size: float, calibration: Calibration) -> float:
    """Sd of the mean of readings at a station where the thong is about ``size`` mm thick."""
    plait = size * math.sqrt(calibration.variances["residual"] * calibration.noise)
    tool = TAPE_SD_MM if any(one.method == "girth" for one in readings) else 0.0
    tool = math.hypot(tool, calibration.model_parameters.caliper_mm)
    alone = (1 - SHARED) / len(readings)
    return math.sqrt(plait**2 * (SHARED + alone) + tool**2 / len(readings))


def expected_thong(whip: Whip, cords: Mapping[str, Cord]) -> Thong:
    """The stacks along a whip whose places count from its handle end, with its own readings.

    Raises
    ------
    StackNotKnownError
        Where its length or a stack is not known.
    """
    if whip.thong_length_mm is None:
        raise StackNotKnownError(
            Finding("no-length", "the length of the thong is not noted", f"note thong_length of {whip.label}")
        )
    places = STATIONS * whip.thong_length_mm
    stacks = tuple(stack_at(whip, at, cords) for at in places)
    seen, _ = observe(whip, cords)
    return Thong(stacks, tuple(places.tolist()), whip.maker, tuple(seen))


def expected_profiles(
    calibration: Calibration, thongs: Sequence[Thong], lengths_mm: Sequence[float]
) -> list[Profile]:
    """What the fit expects of thongs of these lengths."""
    found = []
    for one, length in zip(predict_along(calibration, thongs), lengths_mm, strict=True):
        n = len(one.diameter_mm)
        centred = np.eye(n) - 1.0 / n
        apart = np.diag(centred @ one.covariance @ centred)
        sd = one.diameter_mm * np.sqrt(np.maximum(apart, LEAST_SCATTER**2))
        found.append(Profile(length, STATIONS * length, one.diameter_mm, sd, one.covariance))
    return found
