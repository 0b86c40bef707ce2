"""What a run of measuring says when it is done: how it came out, and which readings to look at again."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plaitlog.service.usecases.measuring.expecting import Expected, OnBench, expected, expected_without
from plaitlog.service.usecases.measuring.runs import Run, Taken


@dataclass(frozen=True, slots=True)
class Difference:
    """A station: what was measured there on the mean, and what was expected before the run, mm."""

    station: int
    measured_mm: float
    expected_mm: float

    @property
    def off_mm(self) -> float:
        return self.measured_mm - self.expected_mm


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading outside of the 99 % interval that all others leave it, with that interval in mm."""

    taken: Taken
    low_99_mm: float
    high_99_mm: float


@dataclass(frozen=True, slots=True)
class SummedUp:
    """``ratio``: measured to expected on the geometric mean of the stations, without the suspects; None where
    nothing was expected. ``greatest``: the difference that is greatest as a share."""

    stations: int
    readings: int
    passed_over: int
    ratio: float | None
    greatest: Difference | None
    suspects: tuple[Suspect, ...]


def summed_up(bench: OnBench, run: Run) -> SummedUp:
    """What the readings of a run say beside what was expected before it."""
    read = [one for one in run.taken if one.key is not None]
    own = {one.key for one in read}
    before = expected(bench, run.setup, [seen for key, seen in bench.new.items() if key not in own])
    suspects = _suspects(bench, read)
    odd = {one.taken.key for one in suspects}
    found = _differences(read, before)
    sound = _differences([one for one in read if one.key not in odd], before)
    logs = [math.log(one.measured_mm / one.expected_mm) for one in sound]
    return SummedUp(
        stations=len({one.station for one in read}),
        readings=len(read),
        passed_over=sum(one.key is None for one in run.taken),
        ratio=math.exp(sum(logs) / len(logs)) if logs else None,
        greatest=max(found, key=lambda one: abs(math.log(one.measured_mm / one.expected_mm)), default=None),
        suspects=tuple(suspects),
    )


def _differences(read: Sequence[Taken], before: Sequence[Expected]) -> list[Difference]:
    """One for each station at which something was expected."""
    sizes: dict[int, list[float]] = {}
    for one in read:
        sizes.setdefault(one.station, []).append(one.size_mm)
    return [
        Difference(station, sum(here) / len(here), told.diameter_mm)
        for station, here in sizes.items()
        if (told := before[station].told) is not None
    ]


def _suspects(bench: OnBench, read: Sequence[Taken]) -> list[Suspect]:
    known = {one.key: one for one in read if one.key in bench.new}
    told = expected_without(bench, [key for key in known if key is not None])
    found = []
    for one, others in zip(known.values(), told, strict=True):
        within = others.within_99_mm
        if within is not None and not within[0] <= one.size_mm <= within[1]:
            found.append(Suspect(one, *within))
    return found
