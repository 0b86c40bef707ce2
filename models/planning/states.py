"""From layers and rules to the states of the optimum: counts, drops, and how thick each state comes out."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, product
from typing import Final

import numpy as np

from plaitlog.models.errors import Finding, PlanError
from plaitlog.models.planning.asked import ALMOST_MM, Asked, Rules
from plaitlog.models.planning.levels import Levels, axis_of, levels_of, nodes_of
from plaitlog.models.planning.optimum import Array, Problem, Stretch
from plaitlog.models.planning.state_stacks import Given, given_at, planned_layers, stack_of
from plaitlog.models.stack import Stack

OFF_COVER: Final = 100.0
"""What a node costs whose cover the rules forbid, and again for each tenth it is off: more than any misfit,
so that it is chosen only where nothing else is possible, and then the nearest."""
MISFIT_MM: Final = 100.0
"""Length of thong on which a misfit of one standard deviation costs one."""
MOST_STATES: Final = 8_000_000
"""Of all stretches together: a few arrays of so many numbers are held."""
STACK_WORK: Final = 2_500
"""How many states and nodes take as long as the prediction of one stack."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """How n stacks come out. log_mm, sd (n,): logarithm of the diameter and its standard deviation. covers:
    for each stack the covers of its plaited layers by slot."""

    log_mm: Array
    sd: Array
    covers: Sequence[Mapping[int, float]]


Predict = Callable[[Sequence[Stack]], Sizes]


def problem_of(asked: Asked, predict: Predict) -> tuple[Problem, list[Levels]]:
    """The optimum's problem, and what its axes mean."""
    levels, starts = _begun(asked, levels_of(asked), predict)
    nodes = len(asked.target.diameter_mm)
    log_target = np.log(asked.target.diameter_mm)
    states = math.prod(len(one.counts) * (one.wait + 1) for one in levels)
    stretches = list(_stretches(asked, levels, nodes))
    if states * len(stretches) > MOST_STATES:
        raise too_much_work()
    stacks = math.prod(len(one.counts) * (2 if one.tuck else 1) for one in levels) * len(stretches)
    check_work(asked.rules, states * nodes + stacks * STACK_WORK)
    priced = [
        Stretch(first=first, last=last, **_costs(asked, levels, given, predict, first))
        for first, last, given in stretches
    ]
    axes = tuple(axis_of(asked, one, nodes) for one in levels)
    apart = max(nodes_of(asked.rules.apart_mm, asked.rules), 1)
    problem = Problem(axes=axes, starts=starts, log_target=log_target, stretches=tuple(priced), apart=apart)
    return problem, levels


def with_dearer_drops(problem: Problem, levels: Sequence[Levels], factor: float) -> Problem:
    """The same with drops in plaits at another cost; predictions, most of the work, are shared."""
    return replace(
        problem,
        axes=tuple(
            axis
            if one.singly
            else replace(axis, moves=tuple(replace(move, cost=move.cost * factor) for move in axis.moves))
            for axis, one in zip(problem.axes, levels, strict=True)
        ),
    )


def check_work(rules: Rules, work: float) -> None:
    """Raises PlanError where a plan would take longer than the rules allow."""
    if work > rules.most_work:
        raise too_much_work()


def too_much_work() -> PlanError:
    return PlanError(
        Finding(
            "too-much-work",
            "so many layers, counts and places are open that comparing them all would take minutes",
            "give start counts or ends of layers, a coarser grid such as 20 mm, or shorter tucks",
        )
    )


def _begun(
    asked: Asked, levels: list[Levels], predict: Predict
) -> tuple[list[Levels], tuple[tuple[int, ...], ...]]:
    """The starts that come near the target at the datum, and the levels from the most of each on.

    Where none comes as near as the rules say, those that come nearest.
    """
    options = [
        one.counts[:1] if one.layer.start is not None else [count for count in one.counts if count]
        for one in levels
    ]
    check_work(asked.rules, math.prod(map(len, options)) * STACK_WORK)
    chosen = list(product(*options))
    given = given_at(asked, 0.0)
    foundation = asked.foundation_mm if asked.foundation_to_mm > 0 else 0.0
    layers = [
        {count: planned_layers(one, count, False, 0.0) for count in option}
        for one, option in zip(levels, options, strict=True)
    ]
    every = [
        stack_of(levels, [of[count] for of, count in zip(layers, counts, strict=True)], given, foundation)
        for counts in chosen
    ]
    sizes = predict([stack for stack in every if stack is not None])
    off = np.abs(sizes.log_mm - np.log(asked.target.diameter_mm[0])) / sizes.sd
    off += np.array([_off_cover(covers, asked.rules) for covers in sizes.covers])
    near = np.flatnonzero(off <= max(asked.rules.start_within, float(off.min())))
    begun = [chosen[k] for k in near]
    most = [max(counts[k] for counts in begun) for k in range(len(levels))]
    kept = [
        replace(one, counts=tuple(count for count in one.counts if count <= top))
        for one, top in zip(levels, most, strict=True)
    ]
    places = [{count: k for k, count in enumerate(one.counts)} for one in kept]
    starts = tuple(
        tuple(place[count] for place, count in zip(places, counts, strict=True)) for counts in begun
    )
    return kept, starts


def _stretches(asked: Asked, levels: list[Levels], nodes: int) -> Iterator[tuple[int, int, Given]]:
    """Runs of nodes over which the given layers, and what must have ended, are the same."""
    ends = [one.layer.ends for one in levels if isinstance(one.layer.ends, float | int)]
    ends += [one.layer.fate.until_mm for one in levels if one.layer.fate.until_mm is not None]

    def told(node: int) -> tuple[Given, bool, tuple[bool, ...]]:
        at = asked.rules.place_mm(node)
        ended = tuple(at >= end - ALMOST_MM for end in ends)
        return given_at(asked, at), at < asked.foundation_to_mm, ended

    for (given, _, _), run in groupby(range(nodes), told):
        members = list(run)
        yield members[0], members[-1], given


def _costs(
    asked: Asked,
    levels: list[Levels],
    given: Given,
    predict: Predict,
    first: int,
) -> dict[str, Array]:
    """log_size, inverse_sd, extra over (levels, waits) of each axis; waits that tell nothing have size 1."""
    rules = asked.rules
    at_mm = rules.place_mm(first)
    foundation = asked.foundation_mm if at_mm < asked.foundation_to_mm else 0.0
    options = [
        [(count, tucked) for count in one.counts for tucked in ((False, True) if one.tuck else (False,))]
        for one in levels
    ]
    layers = [
        [
            None if _must_not(one, count, at_mm) else planned_layers(one, count, tucked, at_mm)
            for count, tucked in option
        ]
        for one, option in zip(levels, options, strict=True)
    ]
    stacks = [
        None
        if None in planned
        else stack_of(levels, [x for x in planned if x is not None], given, foundation)
        for planned in product(*layers)
    ]
    sizes = predict([stack for stack in stacks if stack is not None])
    there = np.array([stack is not None for stack in stacks])
    log_size, sd, extra = np.zeros(len(stacks)), np.ones(len(stacks)), np.full(len(stacks), np.inf)
    log_size[there], sd[there] = sizes.log_mm, sizes.sd
    extra[there] = [_off_cover(covers, rules) for covers in sizes.covers]
    shape = tuple(size for one in levels for size in (len(one.counts), 2 if one.tuck else 1))
    # Over a tuck strands bunch for an inch or three in any whip: the cover rule is for what runs on.
    untucked = tuple(slice(None) if k % 2 == 0 else slice(0, 1) for k in range(len(shape)))
    found = {
        "log_size": log_size.reshape(shape),
        "inverse_sd": (np.sqrt(rules.grid_mm / MISFIT_MM) / sd).reshape(shape),
        "extra": np.broadcast_to(extra.reshape(shape)[untucked], shape),
    }
    for number, one in enumerate(levels):
        if one.tuck:
            # A strand lies inside from the node of its drop for the nodes of the tuck.
            waits = (np.arange(one.wait + 1) > one.wait - one.tuck).astype(np.intp)
            found = {name: np.take(array, waits, axis=2 * number + 1) for name, array in found.items()}
    for number, one in enumerate(levels):
        own = np.array([_level_cost(one, count, rules) for count in one.counts])
        sizes_of = [1] * found["extra"].ndim
        sizes_of[2 * number] = len(own)
        found["extra"] = found["extra"] + own.reshape(sizes_of)
    return found


def _level_cost(levels: Levels, count: int, rules: Rules) -> float:
    """What a count costs at one node by itself."""
    if levels.singly or count == 0 or count in rules.regular:
        return 0.0
    return rules.irregular_cost * rules.grid_mm / 1000


def _must_not(levels: Levels, count: int, at_mm: float) -> bool:
    """Whether the layer must run there and does not, or must have ended and runs."""
    ends = levels.layer.ends
    return isinstance(ends, float | int) and (count == 0) != (at_mm >= ends - ALMOST_MM)


def _off_cover(covers: Mapping[int, float], rules: Rules) -> float:
    low, high = rules.cover
    off = [max(low - cover, cover - high, 0.0) for cover in covers.values()]
    return sum(OFF_COVER * (1 + 10 * one) for one in off if one > 0)
