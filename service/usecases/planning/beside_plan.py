"""A whip beside the plan it was made from: where it came out otherwise, and why.

What lies between a reading and what was planned there is taken apart in steps, each of them one change of the
prediction: what the fit has learnt since, the condition it was measured in, strands laid otherwise than was
planned, inner layers as they were measured. What is left is the hand, the cord and the caliper.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Final, Literal

import numpy as np

from plaitlog.models.calibration.prediction import Observation, Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import Cord, Layer, Reading, Whip
from plaitlog.service.schemas.kept_plan import KeptPlanShape, KeptStationShape
from plaitlog.service.usecases.kept_plans import planned_layers
from plaitlog.service.usecases.observing import observation, observe
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import InForce

Reason = Literal["fit", "condition", "strands", "inner", "rest"]
REASONS: Final[tuple[Reason, ...]] = ("fit", "condition", "strands", "inner", "rest")


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideLine:
    """One reading beside what was planned there, all in mm.

    off_mm : measured less planned. parts_mm : by reason, they add up to ``off_mm``; empty where the planned
    or the recorded layers are not known well enough to take it apart. inside : within the planned interval.
    """

    at_mm: float
    after_layer: int | None
    measured_mm: float
    target_mm: float | None
    planned_mm: float
    low_90_mm: float
    high_90_mm: float
    parts_mm: Mapping[Reason, float]
    doubtful: bool = False

    @property
    def off_mm(self) -> float:
        return self.measured_mm - self.planned_mm

    @property
    def inside(self) -> bool:
        return self.low_90_mm <= self.measured_mm <= self.high_90_mm


@dataclass(frozen=True, slots=True)
class BesidePlan:
    """kept : what was planned, as a shape. planned : its layers. lines : of the finished whip first, then of
    inner layers, each from the datum to the point."""

    kept: KeptPlanShape
    planned: tuple[Layer, ...]
    lines: tuple[BesideLine, ...]

    def to_json(self) -> list[dict[str, Any]]:
        return [
            {
                **asdict(line),
                "parts_mm": dict(line.parts_mm) or None,
                "off_mm": line.off_mm,
                "inside": line.inside,
            }
            for line in self.lines
        ]


def beside_plan(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> BesidePlan | None:
    """Every reading of a whip beside its plan; None where no plan is kept with it."""
    if whip.plan is None:
        return None
    kept, planned = KeptPlanShape.model_validate(whip.plan), planned_layers(whip.plan)
    made = placed(whip)
    as_planned = replace(made, layers=planned, layers_complete=True, turn_lengths=())
    found: list[tuple[Reading, KeptStationShape]] = []
    for reading in sorted(made.readings, key=_order):
        station = _station(kept.stations, reading)
        if station is not None:
            found.append((reading, station))
    parts = _parts(in_force, made, as_planned, [reading for reading, _ in found], cords)
    lines = [
        BesideLine(
            at_mm=reading.at_mm or 0.0,
            after_layer=reading.after_layer,
            measured_mm=reading.size_mm,
            target_mm=_wanted(kept.stations, reading),
            planned_mm=station.diameter_mm,
            low_90_mm=station.low_90_mm,
            high_90_mm=station.high_90_mm,
            parts_mm={} if told is None else _taken_apart(told, station.diameter_mm, reading.size_mm),
            doubtful=reading.doubtful,
        )
        for (reading, station), told in zip(found, parts, strict=True)
    ]
    return BesidePlan(kept, planned, tuple(lines))


def _order(reading: Reading) -> tuple[int, float]:
    return reading.after_layer or -1, reading.at_mm or 0.0


def _station(stations: Sequence[KeptStationShape], reading: Reading) -> KeptStationShape | None:
    """What was planned where a reading was taken; None where nothing was, or it names no station."""
    over = [one for one in stations if one.after_layer == reading.after_layer]
    if reading.at_mm is None or not over or not over[0].at_mm <= reading.at_mm:
        return None
    return over[bisect_right([one.at_mm for one in over], reading.at_mm) - 1]


def _wanted(stations: Sequence[KeptStationShape], reading: Reading) -> float | None:
    """The wanted diameter of the finished whip, between the kept stations in proportion."""
    known = [(one.at_mm, one.target_mm) for one in stations if one.after_layer is None and one.target_mm]
    if reading.after_layer is not None or reading.at_mm is None or not known:
        return None
    places, sizes = zip(*known, strict=True)
    return float(np.interp(reading.at_mm, places, sizes))


def _parts(
    in_force: InForce,
    made: Whip,
    as_planned: Whip,
    readings: Sequence[Reading],
    cords: Mapping[str, Cord],
) -> list[list[float] | None]:
    """Of each reading four predictions: as planned, in its condition, as made, inner layers known."""
    inner: dict[int | None, tuple[Observation, ...]] = {}
    found: list[list[float] | None] = []
    queries: list[Query] = []
    for reading in readings:
        try:
            seen = observation(made, reading, cords)
            stack = stack_at(as_planned, reading.at_mm or 0.0, cords, reading.after_layer)
        except StackNotKnownError:
            found.append(None)
            continue
        if reading.after_layer not in inner:
            inner[reading.after_layer] = _inner(made, reading.after_layer, cords)
        plain = Query(stack=stack, maker=made.maker, inner=seen.inner)
        measured = replace(plain, condition=seen.condition)
        laid = replace(measured, stack=seen.stack)
        queries += [plain, measured, laid, replace(laid, readings=inner[reading.after_layer])]
        found.append([])
    told = iter(in_force.predict(queries))
    return [None if one is None else [next(told).diameter_mm for _ in range(4)] for one in found]


def _inner(made: Whip, after_layer: int | None, cords: Mapping[str, Cord]) -> tuple[Observation, ...]:
    """What was measured on the layers that lie inside one."""
    outermost = after_layer or len(made.layers)
    inner = [one for one in made.readings if one.after_layer is not None and one.after_layer < outermost]
    return tuple(observe(replace(made, readings=tuple(inner)), cords)[0])


def _taken_apart(told: Sequence[float], planned_mm: float, measured_mm: float) -> dict[Reason, float]:
    steps = [planned_mm, *told, measured_mm]
    return {reason: steps[k + 1] - steps[k] for k, reason in enumerate(REASONS)}
