"""How thick a whip is along the thong while a layer of it is outermost, and the body under that layer."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from plaitlog.models.calibration.prediction import Observation, Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.usecases.pictures.drawing_sections import changes
from plaitlog.service.usecases.planning.sheet_rows import Outline
from plaitlog.service.usecases.predicting import InForce


def outlines(
    in_force: InForce,
    whip: Whip,
    cords: Mapping[str, Cord],
    slot: int,
    readings: tuple[Observation, ...] = (),
) -> tuple[Outline, Outline]:
    """Of the whip once layer ``slot`` (from 1) is there, and of what lies under it; only where it runs."""
    so_far = replace(whip, layers=whip.layers[:slot])
    point = whip.point_mm or 0.0
    edges = sorted({0.0, point, *(at for at in changes(so_far) if 0 < at < point)})
    stacks = [_stack(whip, (low + high) / 2, cords, slot) for low, high in pairwise(edges)]
    under = [None if stack is None else _under(stack, slot) for stack in stacks]
    asked = list(dict.fromkeys(one for one in (*stacks, *under) if one is not None and one.layers))
    inner = slot < len(whip.layers)
    told = in_force.predict(
        [Query(stack=one, maker=whip.maker, inner=inner, readings=readings) for one in asked]
    )
    sizes = {stack: one.diameter_mm for stack, one in zip(asked, told, strict=True)}
    return _looked_up(edges, stacks, sizes), _looked_up(edges, under, sizes)


def _looked_up(
    edges: Sequence[float], stacks: Sequence[Stack | None], sizes: Mapping[Stack, float]
) -> Outline:
    def outline(at_mm: float) -> float | None:
        place = bisect_right(edges, at_mm) - 1
        stack = stacks[min(max(place, 0), len(stacks) - 1)]
        if stack is None:
            return None
        return sizes[stack] if stack.layers else stack.foundation_mm or None

    return outline


def _stack(whip: Whip, at_mm: float, cords: Mapping[str, Cord], slot: int) -> Stack | None:
    try:
        return stack_at(whip, at_mm, cords, slot)
    except StackNotKnownError:
        return None


def _under(stack: Stack, slot: int) -> Stack:
    return Stack(tuple(layer for layer in stack.layers if layer.slot < slot), stack.foundation_mm)
