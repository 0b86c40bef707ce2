"""A plan as data for other programs: numbers in the unit that their key names, never ambiguous."""

from dataclasses import asdict
from itertools import pairwise
from typing import Any

import numpy as np

from plaitlog.models.errors import Finding
from plaitlog.models.notation.fate import print_fate
from plaitlog.models.planning.asked import Asked, AskedLayer
from plaitlog.models.stack import PLAITED
from plaitlog.models.taper import Shape
from plaitlog.models.whip import Foundation, Layer, Step
from plaitlog.service.usecases.planning.miss_words import as_data, as_findings
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.planning.planned_station import PlannedStation
from plaitlog.service.usecases.planning.planning import MM, Told
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.predicting_stacks import usual_pattern


def told_json(found: Told) -> dict[str, Any]:
    """A plan with what it rests on and the plain rule beside it."""
    plain = found.plain
    return {
        **plan_json(found.plan),
        "plain": None
        if plain is None
        else {
            "layers": [planned_layer(layer) for layer in plain.whip.layers],
            "misfit": round(plain.misfit, 3),
            "misfit_mm": round(plain.misfit_mm, 3),
        },
        "choices": [
            {
                "words": one.words,
                "layers": [planned_layer(layer) for layer in one.plan.whip.layers],
                "misfit": round(one.plan.misfit, 3),
                "misfit_mm": round(one.plan.misfit_mm, 3),
                "drops": one.plan.drops,
                "weight_g": None if one.plan.expected is None else round(one.plan.expected.weight.value, 1),
                "cord_totals": _totals(one.plan),
                **_hours(one.plan),
            }
            for one in found.choices
        ],
        "fit": found.bench.in_force.number,
        "rests_on": found.rests_on,
        "caution": CAUTION,
        "findings": [_finding(one) for one in found.findings()],
    }


def plan_json(plan: Plan) -> dict[str, Any]:
    """The plan alone."""
    whip, expected = plan.whip, plan.expected
    weight, balance = (None, None) if expected is None else (expected.weight, expected.balance)
    rod = whip.foundation if isinstance(whip.foundation, Foundation) else None
    return {
        "label": whip.label,
        "maker": whip.maker,
        "type": whip.type,
        "datum": whip.datum,
        "thong_length_mm": whip.thong_length_mm,
        "handle_length_mm": whip.handle_length_mm,
        "handle_diameter_mm": whip.handle_diameter_mm,
        "foundation_mm": None if rod is None else rod.diameter_mm,
        "layers": [planned_layer(layer) for layer in whip.layers],
        "stations": stations_json(plan),
        "misfit": round(plan.misfit, 3),
        "misfit_mm": round(plan.misfit_mm, 3),
        "drops": plan.drops,
        "cut": [
            {
                "layer": piece.slot,
                "cord": piece.cord,
                "pieces": piece.pieces,
                "length_mm": piece.length_mm,
                "middle_mm": piece.middle_mm,
                "ends_mm": list(piece.ends_mm),
            }
            for piece in plan.pieces
        ],
        "cord_totals": _totals(plan),
        "weight_g": None if weight is None else round(weight.value, 1),
        "weight_low_90_g": None if weight is None else round(weight.low_90, 1),
        "weight_high_90_g": None if weight is None else round(weight.high_90, 1),
        "balance_mm": None if balance is None else round(balance.value, 1),
        "balance_low_90_mm": None if balance is None else round(balance.low_90, 1),
        "balance_high_90_mm": None if balance is None else round(balance.high_90, 1),
        "balance_from": "butt",
        **_hours(plan),
        "misses": [as_data(one) for one in plan.misses],
        "findings": [_finding(one) for one in as_findings(plan.misses, MM)],
    }


def _hours(plan: Plan) -> dict[str, Any]:
    hours = None if plan.hours is None else plan.hours.hours
    return {
        "hours": None if hours is None else round(hours.value, 1),
        "hours_low_90": None if hours is None else round(hours.low_90, 1),
        "hours_high_90": None if hours is None else round(hours.high_90, 1),
    }


def _totals(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "cord": total.cord,
            "metres": round(total.metres, 2),
            "grams": _round(total.grams, 1),
            "lacks_m": _round(total.lacks_m, 2),
            "price": _round(total.price, 2),
        }
        for total in plan.totals
    ]


def stations_json(plan: Plan) -> list[dict[str, Any]]:
    """Every station of the grid; beside the target the two straight lines between its ends."""
    squared, straight = straight_lines(plan.asked)
    return [
        {
            "at_mm": one.at_mm,
            "target_mm": round(one.target_mm, 3),
            "diameter_mm": round(one.diameter_mm, 3),
            "low_90_mm": round(one.low_90_mm, 3),
            "high_90_mm": round(one.high_90_mm, 3),
            "cover": _round(outermost(one, one.covers), 3),
            "angle_deg": _round(outermost(one, one.angles_deg), 2),
            "straight_squared_mm": round(float(by_area), 3),
            "straight_mm": round(float(by_diameter), 3),
        }
        for one, by_area, by_diameter in zip(plan.stations, squared, straight, strict=True)
    ]


def straight_lines(asked: Asked) -> tuple[np.ndarray, np.ndarray]:
    """Straight lines in the diameter squared and in the diameter, between the held ends of the target, mm."""
    goal, length = asked.target, asked.length_mm
    at = np.arange(len(goal.diameter_mm)) * asked.rules.grid_mm
    thick, point = float(goal.diameter_mm[0]), float(goal.diameter_mm[-1])
    start, end = goal.held_to_mm, min(goal.held_from_mm, length)
    found = [
        Shape(
            length_mm=length,
            thick_mm=thick,
            point_mm=point,
            parallel_thick_mm=start,
            parallel_point_mm=length - end,
            fullness=fullness,
        ).diameter_mm(at)
        for fullness in (None, 0.5)
    ]
    return found[0], found[1]


def outermost(station: PlannedStation, by_slot: Any) -> float | None:
    """What is told of the outermost plait of a station."""
    slots = [layer.slot for layer in station.stack.layers if layer.role in PLAITED and layer.slot in by_slot]
    return float(by_slot[slots[-1]]) if slots else None


def patterns_of(layer: Layer) -> list[tuple[float, str]]:
    """The pattern of a plait from each of its steps on."""
    if layer.role not in PLAITED or layer.schedule is None:
        return []
    return [
        (step.place.mid_mm, step.pattern or usual_pattern(count))
        for step in layer.schedule.steps
        if (count := round(step.total.mid)) >= 4 and count % 2 == 0
    ]


def planned_layer(layer: Layer) -> dict[str, Any]:
    """A layer as it stands in plan.json."""
    steps: tuple[Step, ...] = () if layer.schedule is None else layer.schedule.steps
    found: dict[str, Any] = {
        "role": layer.role,
        "cord": " + ".join(one.cord for one in layer.cords) or None,
        "strands": [[step.place.mid_mm, round(step.total.mid)] for step in steps] if steps else None,
        "by_cord": [[x.place.mid_mm, _by_cord(layer, x)] for x in steps] if layer.cords[1:] else None,
        "fate": None if layer.fate is None else print_fate(layer.fate, "mm", with_unit=True),
        "pattern": [[at, pattern] for at, pattern in patterns_of(layer)] or None,
        "drops": [
            {"at_mm": after.place.mid_mm, "from": round(before.total.mid), "to": round(after.total.mid)}
            for before, after in pairwise(steps)
        ],
    }
    if not steps:
        for key in ("diameter_mm", "thickness_mm", "from_mm", "to_mm", "what"):
            found[key] = getattr(layer, key)
    return found


def _by_cord(layer: Layer, step: Step) -> dict[str, int]:
    return {one.cord: round(count.mid) for one, count in zip(layer.cords, step.counts, strict=True)}


def open_layers(plan: Plan) -> list[int]:
    """Slots of the layers that were planned, from 1."""
    return [slot for slot, layer in enumerate(plan.asked.layers, start=1) if isinstance(layer, AskedLayer)]


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _finding(finding: Finding) -> dict[str, Any]:
    return asdict(finding)
