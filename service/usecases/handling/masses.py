"""Where the mass of whips lies: from their strands, as thick as the fit predicts them, many at a time."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.calibration.observations import sd_of_interval
from plaitlog.models.calibration.ratios import Expectation
from plaitlog.models.calibration.whip_ratios import WhipCalibrations, reckoned_balance, reckoned_weight
from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.handling.estimate import Estimate, Known
from plaitlog.models.handling.mass_parameters import mass_parameters
from plaitlog.models.mass import LaidLayer, LaidSection, mass_of
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Weight, Whip
from plaitlog.models.whole_mass import (
    FITTING_SPREAD,
    WholeMass,
    handle_before_mm,
    stack_over_rod,
    whole_mass_of,
)
from plaitlog.service.usecases.places import thick_end_mm
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.weighing import weighing_of

EDGES: Final = (0.0, 0.03, 0.06, 0.1, *(0.1 + 0.08 * k for k in range(1, 10)), 0.9, 0.94, 0.97, 1.0)
"""Parts of a thong whose stacks are looked at, shares of its length, finer at both ends (own choice: against
three hundred parts the half-mass position moves by less than its own uncertainty, and workshops of thousands
are worked out several times as fast)."""
SCALE_SD_G: Final = 1.0
"""Sd of a kitchen scale (own judgement)."""
BALANCE_SD_MM: Final = 5.0
"""Sd of a balance point found over an edge (own judgement)."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """Sections of a thong by their places, the stacks of each, and that over a rod if there is one."""

    places: list[tuple[float, float]]
    stacks: list[Stack]
    over_rod: Stack | None


def masses(
    in_force: InForce, whips: Sequence[Whip], cords: Mapping[str, Cord]
) -> list[dict[str, Estimate] | Finding]:
    """Mass parameters of each whip by name, or why there are none.

    A noted weight stands for the weight; what lies where is reckoned from the strands.
    """
    learnt = weighing_of(in_force.weighing).calibrations
    asked = [_asked(whip, cords) for whip in whips]
    stacks = [stack for one in asked if isinstance(one, _Asked) for stack in _all(one)]
    laid = iter(calibrated_geometry(in_force.calibration, stacks) if stacks else ())
    return [_of_one(whip, one, cords, laid, learnt) for whip, one in zip(whips, asked, strict=True)]


def _asked(whip: Whip, cords: Mapping[str, Cord]) -> _Asked | Finding:
    try:
        places = _places(whip)
        stacks = [stack_at(whip, (low + high) / 2, cords) for low, high in places]
        return _Asked(places, stacks, stack_over_rod(whip, cords))
    except StackNotKnownError as error:
        return error.finding


def _places(whip: Whip) -> list[tuple[float, float]]:
    """Sections along the thong, with the handle before them where places count from the butt."""
    start, end = thick_end_mm(whip), whip.point_mm
    if start is None or end is None or not end > start:
        remedy = f"note thong_length of {whip.label}, and handle_length, 0 for none"
        raise StackNotKnownError(Finding("no-length", "the length of the thong is not noted", remedy))
    edges = [start + (end - start) * share for share in EDGES]
    return list(pairwise(edges if start == 0 else [0.0, *edges]))


def _all(one: _Asked) -> list[Stack]:
    return one.stacks if one.over_rod is None else [*one.stacks, one.over_rod]


def _of_one(
    whip: Whip,
    asked: _Asked | Finding,
    cords: Mapping[str, Cord],
    laid: Iterator[tuple[LaidLayer, ...]],
    learnt: WhipCalibrations,
) -> dict[str, Estimate] | Finding:
    if isinstance(asked, Finding):
        by_scale = _weighed_alone(whip)
        return asked if by_scale is None else {"weight_per_length_g_per_m": by_scale}
    sections = [
        LaidSection(low, high, stack, next(laid))
        for (low, high), stack in zip(asked.places, asked.stacks, strict=True)
    ]
    over = [] if asked.over_rod is None else [next(laid)]
    whole = whole_mass_of(whip, cords, mass_of(whip, sections), resolve=lambda stacks: over)
    if not whole.along.mass_g > 0:
        return Finding("nothing-weighs", "no layer has strands to weigh", "note the strand schedules")
    before, start = handle_before_mm(whip), thick_end_mm(whip)
    butt = None if before is None else -before
    found = mass_parameters(whole, start or 0.0, butt) if start is not None else {}
    found |= _weight(whip, whole, learnt)
    balance = None if butt is None else _balance(whip, whole, butt, learnt)
    return found if balance is None else {**found, "balance_fraction": balance}


def _finished(whip: Whip) -> list[Weight]:
    return [one for one in whip.weights if one.after_layer is None]


def _weighed_alone(whip: Whip) -> Estimate | None:
    """From the scale alone, where the layers are not known: what hung on the whip is on it too."""
    noted = _finished(whip)
    if not noted or not whip.thong_length_mm:
        return None
    grams = math.fsum(one.weight_g for one in noted) / len(noted)
    return Estimate.of(
        grams / whip.thong_length_mm * 1000, SCALE_SD_G / whip.thong_length_mm * 1000, "recorded"
    )


def _weight(whip: Whip, whole: WholeMass, learnt: WhipCalibrations) -> dict[str, Estimate]:
    metres = (whip.thong_length_mm or 0.0) / 1000
    if not metres > 0:
        return {}
    bare = whole.along.mass_g
    weighed = []
    for one in _finished(whip):
        hung = replace(whole, with_parts=one.with_parts).along.mass_g - bare
        spread = 1.0 if one.with_parts is None else FITTING_SPREAD
        weighed.append((one.weight_g - hung, math.hypot(spread * hung, SCALE_SD_G)))
    if weighed and all(grams > 0 for grams, _ in weighed):
        grams = math.fsum(one for one, _ in weighed) / len(weighed)
        sd = math.fsum(one for _, one in weighed) / len(weighed)  # what hung on it was the same each time
        return {"weight_per_length_g_per_m": Estimate.of(grams / metres, sd / metres, "recorded")}
    if not whole.thong.cord_mass_g:
        return {}
    expected = learnt.weight.expect(reckoned_weight(whole))
    return {"weight_per_length_g_per_m": _scaled(expected, 1 / metres, "predicted")}


def _balance(whip: Whip, whole: WholeMass, butt: float, learnt: WhipCalibrations) -> Estimate | None:
    length = whole.thong.sections[-1].to_mm - butt
    noted, handle = whip.balance, whip.handle_length_mm
    if noted is not None and noted.how in (None, "laid straight"):
        at = noted.at_mm if noted.counted_from == "butt" else None if handle is None else noted.at_mm + handle
        if at is not None and 0 < at < length:
            return Estimate.of(at / length, BALANCE_SD_MM / length, "recorded")
    reckoned = reckoned_balance(whip, whole)
    return None if reckoned is None else _scaled(learnt.balance.expect(reckoned), 1 / length, "reckoned")


def _scaled(expected: Expectation, factor: float, known: Known) -> Estimate:
    sd = expected.value * sd_of_interval(expected.low_90, expected.high_90)
    return Estimate(
        expected.value * factor, sd * factor, expected.low_90 * factor, expected.high_90 * factor, known
    )
