"""The plan of a whip as it is kept with it: what was asked for, the layers, what was expected where."""

import math
from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np

from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.planning.asked import Target
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.observing import is_inner
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.to_layer_records import layer_record
from plaitlog.service.usecases.to_records import known
from plaitlog.service.usecases.weighing import expected_or_none

GRID_MM: Final = 10.0
"""How finely a whip without a planner's grid is looked at (own choice: finer than any drop is placed)."""
AT_LEAST_EACH: Final = 8
"""Of so many stations one is kept, so that what is wanted in between is known to a tenth of a millimetre."""
Document = dict[str, Any]


def kept_document(
    in_force: InForce,
    whip: Whip,
    cords: Mapping[str, Cord],
    *,
    plan: Plan | None = None,
    spec: Mapping[str, Any] | None = None,
) -> Document:
    """The document of a whip with its planned layers, by the fit in force.

    plan : with the wanted diameters and the cord to cut, where it was made by the planner; then ``spec`` is
    what that was asked for.

    Raises
    ------
    StackNotKnownError
        Where the layers are not known well enough to say what comes out.
    """
    grid = GRID_MM if plan is None else plan.asked.rules.grid_mm
    target = None if plan is None else plan.asked.target
    strands = [slot for slot, layer in enumerate(whip.layers, start=1) if layer.schedule is not None]
    inner = [slot for slot in strands if is_inner(whip, slot)]
    stations = [
        *_stations(in_force, whip, cords, None, grid, target),
        *(x for slot in inner for x in _stations(in_force, whip, cords, slot, grid, None)),
    ]
    found = expected_or_none(in_force, whip, cords)
    weight, balance = (None, None) if found is None else (found.weight, found.balance)
    totals = () if plan is None else plan.totals
    return known(
        fit=in_force.number,
        rests_on=in_force.rests_on,
        spec=None if spec is None else dict(spec),
        layers=[layer_record(layer) for layer in whip.layers],
        stations=stations,
        cord_totals=[{"cord": one.cord, "metres": round(one.metres, 2)} for one in totals] or None,
        weight_g=weight and round(weight.value, 1),
        weight_low_90_g=weight and round(weight.low_90, 1),
        weight_high_90_g=weight and round(weight.high_90, 1),
        balance_mm=balance and round(balance.value, 1),
        balance_low_90_mm=balance and round(balance.low_90, 1),
        balance_high_90_mm=balance and round(balance.high_90, 1),
        hours=None if plan is None or plan.hours is None else round(plan.hours.hours.value, 1),
    )


def _stations(
    in_force: InForce,
    whip: Whip,
    cords: Mapping[str, Cord],
    after_layer: int | None,
    grid_mm: float,
    target: Target | None,
) -> Iterator[Document]:
    """What is expected over the layers up to one, at the stations from which on it is something else."""
    places = _changes(whip, cords, after_layer, grid_mm)
    queries = [Query(stack=stack, maker=whip.maker, inner=after_layer is not None) for _, stack in places]
    told: list[Prediction] = in_force.predict(queries)
    nodes = None if target is None else np.arange(len(target.diameter_mm)) * grid_mm
    for (at, _), one in zip(places, told, strict=True):
        wanted = None if target is None or nodes is None else float(np.interp(at, nodes, target.diameter_mm))
        yield known(
            at_mm=round(at, 1),
            after_layer=after_layer,
            target_mm=wanted and round(wanted, 2),
            diameter_mm=round(one.diameter_mm, 2),
            low_90_mm=round(one.low_90_mm, 2),
            high_90_mm=round(one.high_90_mm, 2),
        )


def _changes(
    whip: Whip, cords: Mapping[str, Cord], after_layer: int | None, grid_mm: float
) -> list[tuple[float, Stack]]:
    """First and last station of every stretch with the same stack, and some between, where there is one."""
    point = whip.point_mm or 0.0
    found: list[tuple[float, Stack]] = []
    same = 0
    nodes = range(math.ceil(point / grid_mm - 1e-6))
    for at in [*(round(node * grid_mm, 6) for node in nodes), point]:
        try:
            stack = stack_at(whip, at, cords, after_layer)
        except StackNotKnownError:
            if after_layer is None:
                raise
            continue
        same = same + 1 if found and found[-1][1] == stack else 0
        if same > 1 and round(found[-1][0] / grid_mm) % AT_LEAST_EACH:
            found.pop()
        found.append((at, stack))
    return found
