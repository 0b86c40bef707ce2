"""Several good plans side by side: as asked for, fewer drops, fewer cords, closer to the target."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.calibration.hours import Pace
from plaitlog.models.errors import PlanError
from plaitlog.models.planning.asked import Asked, AskedLayer
from plaitlog.models.whip import Cord, Layer, Whip
from plaitlog.service.usecases.planning.plan import Plan, make_plan, make_plans
from plaitlog.service.usecases.predicting import InForce

FEWER_DROPS: Final = 20.0
"""How many times dearer a drop in a plait is, where fewer are wanted (own choice)."""
MOST_WORK: Final = 2e8
"""No plan that nobody asked for takes longer than some seconds (states times nodes)."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A plan and what speaks for it, in words."""

    words: str
    plan: Plan


@dataclass(frozen=True, slots=True)
class _Other:
    """A question beside the one that was asked; the words hold where ``keeps`` is true of plan and first."""

    words: str
    asked: Asked
    keeps: Callable[[Plan, Plan], bool]


def choices(
    in_force: InForce,
    whip: Whip,
    asked: Asked,
    cords: Mapping[str, Cord],
    *,
    stock_m: Mapping[str, float] | None = None,
    pace: Pace | None = None,
    progress: Callable[[str, float], None] = lambda words, share: None,
) -> list[Choice]:
    """The plan as it is asked for, then others that are better in one way; those that come out alike once.

    progress : is told which is being made, and the share of all that is done, 0 to 1.
    Raises PlanError where the rules allow none as asked.
    """
    others = list(_others(asked))
    rounds = 2 + len(others)
    first, fewer = make_plans(
        in_force,
        whip,
        asked,
        cords,
        (1.0, FEWER_DROPS),
        stock_m=stock_m,
        pace=pace,
        progress=lambda share: progress("as asked for, and with fewer drops", 2 * share / rounds),
    )
    found = [("as asked for", first)]
    if fewer.drops < first.drops:
        found.append(("fewer drops", fewer))
    for turn, other in enumerate(others, start=2):

        def so_far(share: float, turn: int = turn, words: str = other.words) -> None:
            progress(words, (turn + share) / rounds)

        try:
            plan = make_plan(in_force, whip, other.asked, cords, stock_m=stock_m, pace=pace, progress=so_far)
        except PlanError:
            continue
        new = all(plan.whip.layers != known.whip.layers for _, known in found)
        if new and other.keeps(plan, first):
            found.append((other.words, plan))
    nearest = min((plan for _, plan in found), key=lambda plan: plan.misfit_mm)
    return [Choice(words + _how_near(plan, first, nearest), plan) for words, plan in found]


def _how_near(plan: Plan, first: Plan, nearest: Plan) -> str:
    if plan is nearest:
        return ", closest to the target"
    return ", closer to the target" if _is_closer(plan, first) else ""


def _is_closer(plan: Plan, first: Plan) -> bool:
    """In mm: in standard deviations a plan would come closer by being less sure."""
    return plan.misfit_mm < first.misfit_mm


def _others(asked: Asked) -> Iterator[_Other]:
    rules = asked.rules
    asked = replace(asked, rules=replace(rules, most_work=min(rules.most_work, MOST_WORK)))
    planned = [layer for layer in asked.layers if isinstance(layer, AskedLayer)]
    used = {one.cord.name: one.cord for layer in planned for one in layer.cords}
    if len(used) > 1:
        for cord in used.values():
            yield _Other(f"fewer cords: all of {cord.name}", _in_one_cord(asked, cord), _has_fewer_cords)
    bellies = [layer for layer in planned if layer.role == "belly"]
    if bellies:
        words = "without a belly" if len(bellies) == 1 else "with a belly less"
        without = replace(asked, layers=tuple(x for x in asked.layers if x is not bellies[-1]))
        yield _Other(words, without, lambda plan, first: True)
    if any(_opened(layer) != layer for layer in asked.layers):
        opened = replace(asked, layers=tuple(map(_opened, asked.layers)))
        yield _Other("other starts and ends", opened, _is_closer)


def _has_fewer_cords(plan: Plan, first: Plan) -> bool:
    return len(_cords(plan)) < len(_cords(first))


def _cords(plan: Plan) -> set[str]:
    return {cord.cord for layer in plan.whip.layers for cord in layer.cords}


def _in_one_cord(asked: Asked, cord: Cord) -> Asked:
    """The same layers in one cord; starts that were given are left open, for they belong to other cords."""
    return replace(
        asked,
        layers=tuple(
            replace(layer, cord=cord, mixed=(), start=layer.start if _is_of(layer, cord) else None)
            if isinstance(layer, AskedLayer)
            else layer
            for layer in asked.layers
        ),
    )


def _is_of(layer: AskedLayer, cord: Cord) -> bool:
    return not layer.mixed and layer.cord.name == cord.name


def _opened(layer: AskedLayer | Layer) -> AskedLayer | Layer:
    """The same with its start open, and its end, but where it is to run to the point."""
    if isinstance(layer, Layer):
        return layer
    return replace(layer, start=None, ends="point" if layer.ends == "point" else None)
