"""Why a reading may not fit: common slips tested one by one against what the rest of its whip lets expect.

A slip explains a reading that fits badly if the value put right, or another stack, leaves a usual residual.
Slips are ranked by the normal density of the corrected reading times how common they are; none is named that
does not beat a reading which is simply odd (Student's t with 4 degrees of freedom).
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.prediction import predict
from plaitlog.models.stack import PLAITED, Stack
from plaitlog.models.units import MM_PER

COMMON: Final[Mapping[str, float]] = {
    "decimal-point": 1.0,
    "unit": 1.0,
    "girth": 1.0,
    "neighbour": 0.6,
    "layer-not-on": 0.6,
    "digits": 0.4,
    "layer-not-noted": 0.1,
}
"""How common slips are, against each other (own judgement)."""
ODD: Final = 25.0
"""A reading that is off without any of these is so much more common than each of them (own judgement)."""
FITS: Final = 2.5
"""Residual, in standard deviations, up to which a corrected reading fits."""
MM_PER_IN: Final = float(MM_PER["in"])


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelyCause:
    """A slip that would explain a reading. ``fitting_mm``: the reading once the slip is put right;
    ``neighbour_at_mm``: the station it was exchanged with, if it was."""

    code: str
    words: str
    fitting_mm: float
    neighbour_at_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """What the rest of the whip lets expect where a reading was taken (median, 90 % interval, mm), and the
    likeliest slip, None where no common one explains it."""

    expected_mm: float
    low_90_mm: float
    high_90_mm: float
    cause: LikelyCause | None


@dataclass(frozen=True, slots=True)
class _Tried:
    cause: LikelyCause
    z: float
    log_density: float


def explained(
    calibration: Calibration,
    reading: Observation,
    whip: Sequence[Observation],
    odd: Sequence[Observation] = (),
) -> Explained:
    """Test the common slips on one reading.

    whip : the readings of its whip, itself among them. odd : those of them that do not fit either; they say
    nothing about the others.
    """
    sound = tuple(x for x in whip if x is not reading and not any(x is y for y in odd))
    told = predict(calibration, [_asked(reading, reading.stack, sound)])[0]
    mean, sd = math.log(told.diameter_mm), told.sd_log
    before = (math.log(reading.diameter_mm) - mean) / sd
    tried = [
        _tried(LikelyCause(code=code, words=words, fitting_mm=value), share, math.log(value), mean, sd)
        for code, words, value, share in _other_values(reading)
    ]
    tried += _other_stacks(calibration, reading, sound, told.diameter_mm)
    tried += _swapped(calibration, reading, whip, sound)
    fitting = [one for one in tried if abs(one.z) <= FITS < abs(before)]
    best = max(fitting, key=lambda one: one.log_density, default=None)
    if best is not None and best.log_density < math.log(ODD) + _log_t4(before) - math.log(sd):
        best = None
    return Explained(
        expected_mm=told.diameter_mm,
        low_90_mm=told.low_90_mm,
        high_90_mm=told.high_90_mm,
        cause=None if best is None else best.cause,
    )


def _asked(reading: Observation, stack: Stack, readings: tuple[Observation, ...]) -> Query:
    return Query(
        stack=stack,
        maker=reading.maker,
        condition=reading.condition,
        at_mm=reading.at_mm,
        inner=reading.inner,
        readings=readings,
    )


def _tried(cause: LikelyCause, share: float, log_value: float, mean: float, sd: float) -> _Tried:
    z = (log_value - mean) / sd
    return _Tried(cause, z, _log_normal(z) - math.log(sd) + math.log(COMMON[cause.code] * share))


def _log_normal(z: float) -> float:
    return -0.5 * math.log(2 * math.pi) - z * z / 2


def _log_t4(z: float) -> float:
    """Log density of Student's t with 4 degrees of freedom, whose density at 0 is 3/8."""
    return math.log(3 / 8) - 2.5 * math.log1p(z * z / 4)


def _other_values(reading: Observation) -> Iterator[tuple[str, str, float, float]]:
    """Code, words, corrected value in mm, share of such slips that this is."""
    noted = reading.diameter_mm
    yield "decimal-point", "the decimal point slipped", noted * 10, 0.5
    yield "decimal-point", "the decimal point slipped", noted / 10, 0.5
    yield "unit", "inches noted as millimetres", noted * MM_PER_IN, 0.5
    yield "unit", "millimetres noted as inches", noted / MM_PER_IN, 0.5
    if reading.method == "caliper":
        yield "girth", "a girth noted as a diameter", noted / math.pi, 1.0
    else:
        yield "girth", "a diameter noted as a girth", noted * math.pi, 1.0
    turned = list(_transposed(noted))
    for value in turned:
        yield "digits", "two digits changed places", value, 1 / len(turned)


def _transposed(noted: float) -> Iterator[float]:
    """The value with two neighbouring digits exchanged, as it was typed in mm, else in inches."""
    for per, places in ((1.0, 1), (1.0, 2), (MM_PER_IN, 3)):
        text = f"{noted / per:.{places}f}"
        if abs(float(text) * per - noted) < 1e-6:
            digits = [k for k, sign in enumerate(text) if sign.isdigit()]
            for a, b in pairwise(digits):
                if text[a] != text[b]:
                    signs = list(text)
                    signs[a], signs[b] = signs[b], signs[a]
                    value = float("".join(signs)) * per
                    if value > 0:
                        yield value
            return


def _other_stacks(
    calibration: Calibration, reading: Observation, sound: tuple[Observation, ...], expected_mm: float
) -> list[_Tried]:
    """As if the outer plait had not been on yet, or one more like it lay over it."""
    layers = reading.stack.layers
    plaited = [k for k, layer in enumerate(layers) if layer.role in PLAITED]
    if not plaited:
        return []
    outer = layers[plaited[-1]]
    more = replace(outer, slot=outer.slot + 1, turn_mm=None)
    stacks = {
        "layer-not-noted": Stack((*layers, more), reading.stack.foundation_mm),
        "layer-not-on": Stack(layers[: plaited[-1]], reading.stack.foundation_mm),
    }
    words = {
        "layer-not-noted": "one more layer lies there than is noted",
        "layer-not-on": "measured before the outer layer was on",
    }
    if not stacks["layer-not-on"].layers and reading.stack.foundation_mm == 0:
        del stacks["layer-not-on"]
    asked = [_asked(reading, stack, sound) for stack in stacks.values()]
    return [
        _tried(
            LikelyCause(code=code, words=words[code], fitting_mm=expected_mm),
            1.0,
            math.log(reading.diameter_mm),
            math.log(told.diameter_mm),
            told.sd_log,
        )
        for code, told in zip(stacks, predict(calibration, asked), strict=True)
    ]


def _swapped(
    calibration: Calibration,
    reading: Observation,
    whip: Sequence[Observation],
    sound: tuple[Observation, ...],
) -> Iterator[_Tried]:
    """As if the sizes of two neighbouring stations had been noted for each other."""
    for neighbour in _neighbours(reading, whip):
        rest = tuple(x for x in sound if x is not neighbour)
        here, there = predict(
            calibration, [_asked(reading, reading.stack, rest), _asked(neighbour, neighbour.stack, rest)]
        )
        cause = LikelyCause(
            code="neighbour",
            words="noted for a neighbouring reading, and that one here",
            fitting_mm=neighbour.diameter_mm,
            neighbour_at_mm=neighbour.at_mm,
        )
        one = _tried(cause, 0.5, math.log(neighbour.diameter_mm), math.log(here.diameter_mm), here.sd_log)
        mean, sd = math.log(there.diameter_mm), there.sd_log
        moved = (math.log(reading.diameter_mm) - mean) / sd
        stays = (math.log(neighbour.diameter_mm) - mean) / sd
        # Both sizes must fit in the other's place; that the neighbour fits where it is noted speaks against.
        worst = max(one.z, moved, key=abs)
        yield _Tried(cause, worst, one.log_density + _log_normal(moved) - _log_t4(stays))


def _neighbours(reading: Observation, whip: Sequence[Observation]) -> list[Observation]:
    """The nearest reading on either side, of the same layer."""
    if reading.at_mm is None:
        return []
    same = [x for x in whip if x is not reading and x.at_mm is not None and x.inner == reading.inner]
    before = [x for x in same if (x.at_mm or 0.0) < reading.at_mm]
    after = [x for x in same if (x.at_mm or 0.0) > reading.at_mm]
    found = []
    if before:
        found.append(max(before, key=lambda x: x.at_mm or 0.0))
    if after:
        found.append(min(after, key=lambda x: x.at_mm or 0.0))
    return found
