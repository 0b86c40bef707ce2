"""Several good plans side by side: closest to the target, with fewer drops, of fewer cords."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.calibration.hours import Pace
from plaitlog.models.errors import PlanError
from plaitlog.models.planning.asked import Asked, AskedLayer
from plaitlog.models.whip import Cord, Layer, Whip
from plaitlog.service.usecases.planning.plan import Plan, make_plan
from plaitlog.service.usecases.predicting import InForce

FEWER_DROPS: Final = 20.0
"""How many times dearer a drop in a plait is, where fewer are wanted (own choice)."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A plan and what speaks for it, in words."""

    words: str
    plan: Plan


def choices(
    in_force: InForce,
    whip: Whip,
    asked: Asked,
    cords: Mapping[str, Cord],
    *,
    stock_m: Mapping[str, float] | None = None,
    pace: Pace | None = None,
) -> list[Choice]:
    """The plan as it is asked for, then others that are better in one way; those that come out alike once.

    Raises PlanError where the rules allow none as asked.
    """
    found = [
        Choice("closest to the target", make_plan(in_force, whip, asked, cords, stock_m=stock_m, pace=pace))
    ]
    for words, question in _others(asked):
        try:
            plan = make_plan(in_force, whip, question, cords, stock_m=stock_m, pace=pace)
        except PlanError:
            continue
        if all(plan.whip.layers != known.plan.whip.layers for known in found):
            found.append(Choice(words, plan))
    return found


def _others(asked: Asked) -> Iterator[tuple[str, Asked]]:
    rules = asked.rules
    yield "fewer drops", replace(asked, rules=replace(rules, drop_cost=rules.drop_cost * FEWER_DROPS))
    planned = [layer for layer in asked.layers if isinstance(layer, AskedLayer)]
    names = dict.fromkeys(layer.cord.name for layer in planned)
    if len(names) > 1:
        for cord in {layer.cord.name: layer.cord for layer in planned}.values():
            yield f"all of {cord.name}", _in_one_cord(asked, cord)
    bellies = [layer for layer in planned if layer.role == "belly"]
    if bellies:
        yield "without a belly", replace(asked, layers=_without(asked.layers, bellies[-1]))


def _in_one_cord(asked: Asked, cord: Cord) -> Asked:
    """The same layers in one cord; starts that were given are left open, for they belong to other cords."""
    return replace(
        asked,
        layers=tuple(
            replace(layer, cord=cord, start=layer.start if layer.cord.name == cord.name else None)
            if isinstance(layer, AskedLayer)
            else layer
            for layer in asked.layers
        ),
    )


def _without(layers: Sequence[AskedLayer | Layer], left_out: AskedLayer) -> tuple[AskedLayer | Layer, ...]:
    return tuple(layer for layer in layers if layer is not left_out)
