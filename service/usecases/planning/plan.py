"""A plan: layers that follow the target best, what comes out at every station, what to cut, the weight."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np

from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.calibration.hours import ExpectedHours, Pace
from plaitlog.models.calibration.observations import sd_of_interval
from plaitlog.models.calibration.prediction import Observation, Query
from plaitlog.models.errors import Finding, PlanError
from plaitlog.models.mass import Resolve
from plaitlog.models.planning.asked import Asked, AskedLayer
from plaitlog.models.planning.cut_list import CordTotal, Piece, cut_list, totals
from plaitlog.models.planning.drawn_up import drawn_up
from plaitlog.models.planning.levels import Levels
from plaitlog.models.planning.optimum import Schedule, optimum, untold
from plaitlog.models.planning.states import Predict, problem_of, with_dearer_drops
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.planning.misses import Miss, misses
from plaitlog.service.usecases.planning.planned_station import PlannedStation
from plaitlog.service.usecases.planning.sizes import covers_of, sizes_by
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.weighing import Expected, expected_or_none

RUN_STARTS: Final = range(6, 26, 2)
"""Starts that are tried one by one for a layer whose dropped strands run on inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """whip : planned, with all its layers. misfit : root mean square over the thong of how far it is off the
    target, in standard deviations of the prediction. misfit_mm : the same in mm. hours : None where no pace
    was given."""

    whip: Whip
    asked: Asked
    cords: Mapping[str, Cord]
    stations: tuple[PlannedStation, ...]
    misfit: float
    misfit_mm: float
    pieces: tuple[Piece, ...]
    totals: tuple[CordTotal, ...]
    expected: Expected | None
    hours: ExpectedHours | None
    misses: tuple[Miss, ...]

    @property
    def drops(self) -> int:
        """Drops in all planned layers."""
        return sum(
            len(layer.schedule.steps) - 1
            for layer, question in zip(self.whip.layers, self.asked.layers, strict=True)
            if layer.schedule is not None and isinstance(question, AskedLayer)
        )


def make_plan(
    in_force: InForce,
    whip: Whip,
    asked: Asked,
    cords: Mapping[str, Cord],
    *,
    readings: tuple[Observation, ...] = (),
    stock_m: Mapping[str, float] | None = None,
    pace: Pace | None = None,
    progress: Callable[[float], None] = untold,
) -> Plan:
    """The best plan for a whip that has everything but its layers.

    readings : of the same whip, taken so far. stock_m : metres there are of each cord. pace : what
    recorded hours taught. progress : is told the share that is done, 0 to 1.

    Raises
    ------
    PlanError
        Where the rules allow no schedule at all, saying what to change.
    """
    (plan,) = make_plans(
        in_force,
        whip,
        asked,
        cords,
        (1.0,),
        readings=readings,
        stock_m=stock_m,
        pace=pace,
        progress=progress,
    )
    return plan


def make_plans(
    in_force: InForce,
    whip: Whip,
    asked: Asked,
    cords: Mapping[str, Cord],
    drops_dearer: Sequence[float],
    *,
    readings: tuple[Observation, ...] = (),
    stock_m: Mapping[str, float] | None = None,
    pace: Pace | None = None,
    progress: Callable[[float], None] = untold,
) -> list[Plan]:
    """The best plan for each cost of a drop, so many times that of the rules; else as ``make_plan``."""
    predict = sizes_by(in_force, whip.maker, readings)
    found = []
    for schedule, levels, question in best(asked, predict, drops_dearer, progress):
        made = replace(whip, layers=drawn_up(question, schedule, levels), layers_complete=True)
        found.append(finish(in_force, made, question, cords, readings=readings, stock_m=stock_m, pace=pace))
    return found


def finish(
    in_force: InForce,
    whip: Whip,
    asked: Asked,
    cords: Mapping[str, Cord],
    *,
    readings: tuple[Observation, ...] = (),
    stock_m: Mapping[str, float] | None = None,
    pace: Pace | None = None,
) -> Plan:
    """Everything that is told of layers that are settled: also of a plain rule, or of a maker's own."""
    stations = planned_stations(in_force, whip, asked, cords, readings)
    resolve: Resolve = partial(calibrated_geometry, in_force.calibration)
    expected = expected_or_none(in_force, whip, cords)
    pieces = cut_list(whip, cords, resolve, None if expected is None else expected.safe_cord)
    off = np.array([np.log(one.diameter_mm / one.target_mm) for one in stations])
    spread = np.array([sd_of_interval(one.low_90_mm, one.high_90_mm) for one in stations])
    return Plan(
        whip=whip,
        asked=asked,
        cords=cords,
        stations=stations,
        misfit=float(np.sqrt(np.mean((off / spread) ** 2))),
        misfit_mm=float(np.sqrt(np.mean([(one.diameter_mm - one.target_mm) ** 2 for one in stations]))),
        pieces=pieces,
        totals=totals(pieces, cords, stock_m),
        expected=expected,
        hours=None if pace is None else pace.expected(whip, cords),
        misses=tuple(misses(stations, asked, whip.layers)),
    )


def best(
    asked: Asked,
    predict: Predict,
    drops_dearer: Sequence[float] = (1.0,),
    progress: Callable[[float], None] = untold,
) -> list[tuple[Schedule, Sequence[Levels], Asked]]:
    """The cheapest schedule for each cost of a drop; starts of layers whose strands run on are tried one by
    one."""
    found: list[list[tuple[Schedule, Sequence[Levels], Asked]]] = [[] for _ in drops_dearer]
    questions = with_run_starts(asked)
    rules = replace(asked.rules, most_work=asked.rules.most_work / len(questions))
    rounds = len(questions) * len(drops_dearer)
    for turn, question in enumerate(questions):
        problem, levels = problem_of(replace(question, rules=rules), predict)
        for part, (kept, factor) in enumerate(zip(found, drops_dearer, strict=True)):
            before = turn * len(drops_dearer) + part

            def so_far(share: float, before: int = before) -> None:
                progress((before + share) / rounds)

            schedule = optimum(with_dearer_drops(problem, levels, factor), so_far)
            if schedule is not None:
                kept.append((schedule, levels, question))
    if not found[0]:
        text = "the rules allow no schedule of drops for these layers"
        remedy = "give other starts or ends, a wider cover, or less spacing"
        raise PlanError(Finding("no-plan", text, remedy))
    return [min(kept, key=lambda one: one[0].cost) for kept in found]


def with_run_starts(asked: Asked) -> list[Asked]:
    """The questions that are worked out for one: a start that is tried each."""
    questions = [asked]
    for slot, layer in enumerate(asked.layers):
        if isinstance(layer, AskedLayer) and layer.fate.kind == "run" and layer.start is None:
            starts = range(1, 15) if layer.role == "core" else RUN_STARTS
            questions = [
                replace(
                    one, layers=(*one.layers[:slot], replace(layer, start=start), *one.layers[slot + 1 :])
                )
                for one in questions
                for start in starts
            ]
    return questions


def planned_stations(
    in_force: InForce,
    whip: Whip,
    asked: Asked,
    cords: Mapping[str, Cord],
    readings: tuple[Observation, ...] = (),
) -> tuple[PlannedStation, ...]:
    """What comes out at every node of the grid."""
    places = asked.rules.at_nodes_mm(len(asked.target.diameter_mm)).tolist()
    stacks = [stack_at(whip, at, cords) for at in places]
    # Nodes between two changes share their stack, so each is worked out once.
    different = list(dict.fromkeys(stacks))
    told = in_force.predict([Query(stack=stack, maker=whip.maker, readings=readings) for stack in different])
    laid = calibrated_geometry(in_force.calibration, different)
    answers = dict(zip(different, zip(told, laid, strict=True), strict=True))
    found = []
    for at, wanted, stack in zip(places, asked.target.diameter_mm.tolist(), stacks, strict=True):
        one, layers = answers[stack]
        found.append(
            PlannedStation(
                at_mm=at,
                target_mm=wanted,
                diameter_mm=one.diameter_mm,
                low_90_mm=one.low_90_mm,
                high_90_mm=one.high_90_mm,
                stack=stack,
                covers=covers_of(layers),
                angles_deg={
                    x.layer.slot: float(np.degrees(np.arccos(x.cos_angle)))
                    for x in layers
                    if x.cos_angle is not None
                },
            )
        )
    return tuple(found)
