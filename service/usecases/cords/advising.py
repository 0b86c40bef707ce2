"""Which short test plait of a cord teaches most about the stacks that are wanted, and by how much.

What a reading says does not change how much it narrows: so all is told before anything is plaited.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.gain import Trial, floor_variances, variance_losses
from plaitlog.models.calibration.observations import Z90, Observation
from plaitlog.models.whip import Cord
from plaitlog.service.usecases.cords.short_plaits import RATE, ShortPlait, short_plaits
from plaitlog.service.usecases.missing.gap_cords import measurements
from plaitlog.service.usecases.missing.gap_targets import Target
from plaitlog.service.usecases.predicting import CAUTION, InForce
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.wanted_stacks import Wanted, maker_of_most, typical_stacks

Array = NDArray[np.float64]

NEARLY: Final = 0.9
"""Of all plaits that narrow at least this share of the most that any does, the quickest is advised."""
LEAST: Final = 0.01
"""A plait that narrows by less than 1 per cent is not worth its minutes (own judgement)."""
SHOWN: Final = 6


@dataclass(frozen=True, slots=True)
class Worth:
    """What would be left of the intervals: half the 90 % interval on the average, mm; share it narrows by."""

    half_mm: float
    narrower: float

    def to_json(self) -> dict[str, float]:
        return {"half_90_mm": self.half_mm, "narrower": self.narrower}


@dataclass(frozen=True, slots=True)
class Proposal:
    """A test plait and what is left once it is read."""

    plait: ShortPlait
    worth: Worth

    def to_json(self) -> dict[str, Any]:
        plait = self.plait
        return {
            "strands": plait.strands,
            "foundation_mm": plait.foundation_mm,
            "length_mm": plait.length_mm,
            "read_at_mm": list(plait.read_at_mm),
            "minutes": plait.minutes,
            **self.worth.to_json(),
        }


@dataclass(frozen=True, slots=True)
class Measure:
    """A measurement that the cord lacks, how it is taken, and what is left once it is."""

    how: str
    worth: Worth


@dataclass(frozen=True, slots=True)
class Advice:
    """What to plait, and to measure, for one cord.

    half_mm : half the 90 % interval of the wanted stacks now, on the average. least_mm : what no record
    takes away of it. proposals : the advised plait first, then one of each count, the most narrowing first;
    empty where none is worth it. second : another plait after the advised one, both together. maker : whose
    hands.
    """

    cord: Cord
    wanted: Wanted
    half_mm: float
    least_mm: float
    proposals: tuple[Proposal, ...]
    second: Proposal | None
    measures: tuple[Measure, ...]
    maker: str | None
    rests_on: str

    @property
    def best(self) -> Proposal | None:
        return self.proposals[0] if self.proposals else None

    @property
    def record_line(self) -> str | None:
        """The record of the advised plait as a line, its diameters to be filled in."""
        return None if self.best is None else self.best.plait.record_line(self.maker)

    def sentences(self, shown: ShownUnits) -> list[str]:
        """What to do, what it brings, and what else would help."""
        best = self.best
        if best is None:
            found = [
                f"No test plait of {self.cord.name} is worth its minutes: none narrows the 90 % interval of "
                f"{self.wanted.words}, {self.half(self.half_mm, shown)} on the average, by 1 % or more."
            ]
        else:
            plait = best.plait
            stations = ", ".join(shown.length(mm) for mm in plait.read_at_mm)
            found = [
                f"Plait {plait.strands} strands of {self.cord.name} for {shown.length(plait.length_mm)} over "
                f"a rod of {shown.diameter(plait.foundation_mm)}, and read it at {stations}: about "
                f"{plait.minutes:.0f} minutes.",
                f"The 90 % interval of {self.wanted.words} then narrows from "
                f"{self.half(self.half_mm, shown)} to {self.half(best.worth.half_mm, shown)} on the "
                f"average, by {100 * best.worth.narrower:.0f} %.",
            ]
        if self.second is not None:
            plait = self.second.plait
            found.append(
                f"Another one after it, best of {plait.strands} strands over "
                f"{shown.diameter(plait.foundation_mm)}, takes it to "
                f"{self.half(self.second.worth.half_mm, shown)}."
            )
        for measure in self.measures:
            how = measure.how[0].upper() + measure.how[1:]
            if measure.worth.narrower < LEAST:
                found.append(f"{how}: that brings as good as nothing here.")
            else:
                left = self.half(measure.worth.half_mm, shown)
                found.append(
                    f"{how}: that by itself takes it to {left}, by {100 * measure.worth.narrower:.0f} %."
                )
        found.append(
            f"No record takes it below {self.half(self.least_mm, shown)}: each whip has its own pull and no "
            "plait is even."
        )
        return found

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        return {
            "cord": self.cord.name,
            "wanted": self.wanted.words,
            "half_90_mm": self.half_mm,
            "least_half_90_mm": self.least_mm,
            "proposals": [proposal.to_json() for proposal in self.proposals],
            "second": None if self.second is None else self.second.to_json(),
            "measurements": [{"how": x.how, **x.worth.to_json()} for x in self.measures],
            "minutes_are": RATE,
            "record": None if self.best is None else self.best.plait.record(self.maker),
            "words": self.sentences(shown),
            "rests_on": self.rests_on,
            "caution": CAUTION,
        }

    def half(self, half_mm: float, shown: ShownUnits) -> str:
        # To a hundredth of a millimetre: what single plaits bring may differ by less than a tenth.
        return f"± {half_mm / 25.4:.4f} in" if shown.diameters == "in" else f"± {half_mm:.2f} mm"


@dataclass(frozen=True, slots=True)
class _Now:
    """How the wanted stacks are predicted now: median, sd of log diameter, correction of widths."""

    middle: Array
    sd: Array
    scale: Array

    @staticmethod
    def of(in_force: InForce, wanted: Wanted) -> "_Now":
        told = in_force.predict(wanted.queries)
        middle, sd, low, high = (
            np.array([getattr(one, name) for one in told])
            for name in ("diameter_mm", "sd_log", "low_90_mm", "high_90_mm")
        )
        return _Now(middle, sd, np.log(high / low) / (2 * Z90 * sd))

    def half_mm(self, variance: Array) -> float:
        """Half the 90 % interval on the average at variances of log diameter; their correction stays."""
        return float(np.mean(self.middle * np.sinh(Z90 * self.scale * np.sqrt(variance))))

    def worth(self, losses: Array) -> Worth:
        # No reading takes away the noise of the next one; the bound only keeps rounding off.
        after = self.half_mm(np.maximum(self.sd**2 - losses, 0.01 * self.sd**2))
        return Worth(after, 1.0 - after / self.half_mm(self.sd**2))


def advise(in_force: InForce, cord: Cord, wanted: Wanted | None = None) -> Advice:
    """What to plait and to measure of a cord; ``wanted``: by default typical stacks of it.

    Each figure counts what is learnt of the stacks alone: a correction of widths from cross-validation,
    which a cord without readings has, stays as it is.
    """
    maker = maker_of_most(in_force.calibration)
    meant = typical_stacks(in_force, cord, maker) if wanted is None else wanted
    now = _Now.of(in_force, meant)
    plaits = short_plaits(in_force, cord)
    proposals = _weighed(in_force, meant, now, plaits, maker)
    best = _quickest_of_good(proposals)
    second = None
    if best is not None:
        after_it = _weighed(in_force, meant, now, plaits, maker, beside=best.plait.trial(maker))
        second = _quickest_of_good(after_it, above=best.worth.narrower)
    targets = [Target(query, 1.0) for query in meant.queries]
    measures = []
    for lacking in measurements(in_force, [cord], targets):
        assert lacking.losses is not None
        measures.append(Measure(lacking.do(ShownUnits()), now.worth(lacking.losses)))
    return Advice(
        cord=cord,
        wanted=meant,
        half_mm=now.half_mm(now.sd**2),
        least_mm=now.half_mm(floor_variances(in_force.calibration, meant.queries)),
        proposals=() if best is None else (best, *_others(proposals, best)),
        second=second,
        measures=tuple(sorted(measures, key=lambda measure: -measure.worth.narrower)),
        maker=maker,
        rests_on=in_force.rests_on,
    )


def best_test_plait(in_force: InForce, cord: Cord, *, wanted: Wanted | None = None) -> Advice | None:
    """``advise``; None where no test plait is worth its minutes."""
    advice = advise(in_force, cord, wanted)
    return advice if advice.proposals else None


def _weighed(
    in_force: InForce,
    wanted: Wanted,
    now: _Now,
    plaits: Sequence[ShortPlait],
    maker: str | None,
    beside: Trial | None = None,
) -> list[Proposal]:
    before = () if beside is None else beside.readings
    trials = []
    for plait in plaits:
        taken = plait.trial(maker).readings
        again = bool(before) and before[0].whip == taken[0].whip
        trials.append(Trial((*before, *(_of_another(taken) if again else taken))))
    losses = variance_losses(in_force.calibration, wanted.queries, trials)
    return [Proposal(plait, now.worth(less)) for plait, less in zip(plaits, losses, strict=True)]


def _of_another(readings: Sequence[Observation]) -> tuple[Observation, ...]:
    """The readings of the same plait made a second time."""
    return tuple(replace(reading, whip=f"{reading.whip} (second)") for reading in readings)


def _quickest_of_good(proposals: Sequence[Proposal], above: float = 0.0) -> Proposal | None:
    most = max((proposal.worth.narrower - above for proposal in proposals), default=0.0)
    if most < LEAST:
        return None
    good = [x for x in proposals if x.worth.narrower - above >= NEARLY * most]
    return min(good, key=lambda x: (x.plait.minutes, -x.worth.narrower))


def _others(proposals: Sequence[Proposal], best: Proposal) -> list[Proposal]:
    """The best of every other strand count, for its minutes, the most narrowing first."""
    counts = {proposal.plait.strands for proposal in proposals} - {best.plait.strands}
    found = [_quickest_of_good([x for x in proposals if x.plait.strands == count]) for count in counts]
    there = [x for x in found if x is not None]
    return sorted(there, key=lambda x: -x.worth.narrower)[: SHOWN - 1]
