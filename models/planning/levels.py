"""The strand counts that a planned layer may have along a thong, and where it may drop which strands."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.planning.asked import ALMOST_MM, Asked, AskedLayer, Rules
from plaitlog.models.planning.optimum import Axis, Move
from plaitlog.models.stack import tuck_mm
from plaitlog.models.whip import Layer

BLUNT_END: Final = 100.0
"""What each strand of a core costs that ends together with its last one: more than any misfit, so that it is
chosen only where the rules leave nothing else, and then of the fewest strands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """The strand counts that one planned layer may have, most first; 0 where it has ended.

    slot : its place among all layers, from 1. start : its count at the datum where it is given. tuck : nodes
    over which a dropped strand lies inside, 0 where it does not.
    """

    layer: AskedLayer
    slot: int
    counts: tuple[int, ...]
    singly: bool
    wait: int
    tuck: int

    @property
    def step(self) -> int:
        return 1 if self.singly else 2


def levels_of(asked: Asked) -> list[Levels]:
    """One for each layer to be planned, innermost first."""
    rules = asked.rules
    found = []
    for slot, layer in enumerate(asked.layers, start=1):
        if not isinstance(layer, AskedLayer):
            continue
        singly = layer.role == "core"
        least, most = rules.core_counts if singly else rules.plait_counts
        step = 1 if singly else 2
        counts = list(range(layer.start or most, least - 1, -step))
        if layer.role != "overlay" and layer.ends != "point":
            counts.append(0)
        tuck = nodes_of(tuck_mm(layer.fate), rules) if layer.fate.kind == "tuck" else 0
        spacing = rules.core_spacing_mm if singly else rules.plait_spacing_mm
        wait = max(nodes_of(spacing, rules), nodes_of(rules.apart_mm, rules), tuck, 1)
        found.append(
            Levels(layer=layer, slot=slot, counts=tuple(counts), singly=singly, wait=wait, tuck=tuck)
        )
    return found


def nodes_of(length_mm: float, rules: Rules) -> int:
    """The least number of nodes that is no shorter."""
    return int(np.ceil(length_mm / rules.grid_mm - 1e-9))


def axis_of(asked: Asked, levels: Levels, nodes: int) -> Axis:
    rules, counts = asked.rules, levels.counts
    at, goal = rules.at_nodes_mm(nodes), asked.target
    allowed = (at >= goal.held_to_mm - ALMOST_MM) & (at <= goal.held_from_mm + ALMOST_MM)
    allowed[0] = False
    allowed &= at >= free_from_mm(levels, rules)
    for drop in settled_drops(asked):
        allowed &= np.abs(at - drop) >= max(rules.apart_mm, rules.grid_mm) - 1e-9
    place = {count: k for k, count in enumerate(counts)}
    cost = 0.0 if levels.singly else rules.drop_cost
    moves = [
        Move(place[count], place[count - levels.step], cost)
        for count in counts
        if count - levels.step in place
    ]
    if 0 in place:
        # A plait may end whole. So does a core, but only where it must end and could not be thinned before.
        ends = [count for count in counts if count > levels.step]
        blunt = BLUNT_END if levels.singly else 0.0
        moves += [Move(place[one], place[0], blunt * (one - 1)) for one in ends if _may_end(levels, one)]
    return Axis(levels=len(counts), moves=tuple(moves), wait=levels.wait, allowed=allowed)


def _may_end(levels: Levels, count: int) -> bool:
    """Whether so many strands may end at once."""
    fewest = levels.counts[-2]
    return not levels.singly or count == fewest or isinstance(levels.layer.ends, float | int)


def settled_drops(asked: Asked) -> list[float]:
    """Where strands of layers that are plaited already were dropped."""
    return [
        step.place.mid_mm
        for layer in asked.layers
        if isinstance(layer, Layer) and layer.schedule is not None
        for step in layer.schedule.steps[1:]
    ]


def free_from_mm(levels: Levels, rules: Rules) -> float:
    """Where a layer that is begun may drop its next strand: ahead of what is plaited, and not too near the
    last drop there."""
    layer = levels.layer
    if layer.begun is None or layer.begun.schedule is None:
        return 0.0
    drops = [step.place.high_mm for step in layer.begun.schedule.steps[1:]]
    last = max((at for at in drops if at <= layer.begun_to_mm), default=-np.inf)
    return max(layer.begun_to_mm + rules.grid_mm / 2, last + levels.wait * rules.grid_mm)
