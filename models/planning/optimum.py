"""The exact optimum of strand drops over a grid of stations, by dynamic programming.

Stations are nodes 0..N of an even grid. Each layer that is planned is an *axis*: a list of levels (strand
counts), and moves from one level to another, each a drop at a node. A drop makes its axis wait so many nodes
for the next one; drops of different axes keep a distance too. What a state costs at a node depends on the
levels of all axes and on how long ago each dropped (a tucked strand thickens the whip for a while), so the
state is, for every axis, its level and the nodes it still waits. Nothing is greedy: every schedule that the
rules allow is compared.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BLOCK: Final = 24
"""Nodes between two kept arrays of values; those between are worked out again on the way back."""


@dataclass(frozen=True, slots=True)
class Move:
    """A drop from one level to another, by their places in ``Axis``, and what it costs."""

    before: int
    after: int
    cost: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One layer. levels : how many. moves : its drops.

    wait : nodes from one drop to the next, at least 1. allowed (N + 1,) : nodes at which it may drop.
    """

    levels: int
    moves: tuple[Move, ...]
    wait: int
    allowed: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Nodes ``first`` to ``last`` over which states cost alike but for the target.

    log_size, inverse_sd, extra : arrays over (levels, waits) of every axis in turn, or such that broadcast to
    it; a state costs ((log_size - target) inverse_sd)^2 + extra at a node, infinite where it is forbidden.
    """

    first: int
    last: int
    log_size: Array
    inverse_sd: Array
    extra: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """starts : the levels, one of each axis, with which the whip may begin. log_target (N + 1,); stretches
    cover 0..N in order; apart : nodes between drops of different axes, at least 1 and at most the wait of
    each."""

    axes: tuple[Axis, ...]
    starts: tuple[tuple[int, ...], ...]
    log_target: Array
    stretches: tuple[Stretch, ...]
    apart: int

    def __post_init__(self) -> None:
        if any(not 1 <= self.apart <= axis.wait for axis in self.axes):
            raise ValueError("drops of one layer must wait at least as long as those of different layers")

    @property
    def shape(self) -> tuple[int, ...]:
        return tuple(size for axis in self.axes for size in (axis.levels, axis.wait + 1))


@dataclass(frozen=True, slots=True)
class Schedule:
    """levels (N + 1, axes): the place of the level at each node; cost: what all of it costs."""

    levels: NDArray[np.intp]
    cost: float


def untold(share: float) -> None:
    """Nobody waits to hear how far it is."""


def optimum(problem: Problem, progress: Callable[[float], None] = untold) -> Schedule | None:
    """The cheapest schedule; None where the rules allow none. Cost and memory are linear in the nodes.

    progress : is told the share that is done, 0 to 1, every few nodes.
    """
    nodes = len(problem.log_target)
    values = _first(problem)
    kept = {0: values}
    for node in range(1, nodes):
        values = _next(problem, values, node)
        if node % BLOCK == 0:
            kept[node] = values
            progress(0.5 * node / nodes)
    last = int(np.argmin(values))
    cost = float(values.flat[last])
    if not np.isfinite(cost):
        return None
    state = tuple(map(int, np.unravel_index(last, problem.shape)))
    levels = np.empty((nodes, len(problem.axes)), dtype=np.intp)
    levels[-1] = state[::2]
    for start in sorted(kept, reverse=True):
        end = min(start + BLOCK, nodes - 1)
        block = [kept[start]]
        for node in range(start + 1, end):
            block.append(_next(problem, block[-1], node))
        for node in range(end, start, -1):
            state = _before(problem, block[node - 1 - start], state)
            levels[node - 1] = state[::2]
        progress(1 - 0.5 * start / nodes)
    return Schedule(levels, cost)


def _first(problem: Problem) -> Array:
    values = np.full(problem.shape, np.inf)
    for start in problem.starts:
        values[tuple(place for level in start for place in (level, 0))] = 0.0
    return _paid(problem, values, 0)


def _next(problem: Problem, values: Array, node: int) -> Array:
    """Values of all states at a node from those at the node before."""
    found = _waited(values)
    for number, axis in enumerate(problem.axes):
        if not axis.allowed[node]:
            continue
        for move in axis.moves:
            # No state that just dropped is one that may drop: each drop reads what no other has written.
            target = found[_free(problem, number, move.after, axis.wait)]
            source = found[_free(problem, number, move.before, 0)]
            np.minimum(target, source + move.cost, out=target)
    return _paid(problem, found, node)


def _waited(values: Array) -> Array:
    """Every axis one node further from its last drop; those that wait no more stay."""
    folded = values.copy()
    for axis in range(1, values.ndim, 2):
        none, one = (_slice(values.ndim, axis, place) for place in (0, 1))
        np.minimum(folded[none], folded[one], out=folded[one])
    moved = np.full_like(values, np.inf)
    moved[(slice(None), slice(0, -1)) * (values.ndim // 2)] = folded[
        (slice(None), slice(1, None)) * (values.ndim // 2)
    ]
    return moved


def _paid(problem: Problem, values: Array, node: int) -> Array:
    stretch = next(one for one in problem.stretches if one.first <= node <= one.last)
    off = stretch.log_size - problem.log_target[node]
    off *= stretch.inverse_sd
    off *= off
    values += off
    values += stretch.extra
    return values


def _slice(ndim: int, axis: int, place: int) -> tuple[slice | int, ...]:
    return (*[slice(None)] * axis, place, *[slice(None)] * (ndim - axis - 1))


def _free(problem: Problem, number: int, level: int, wait: int) -> tuple[slice, ...]:
    """States in which one axis has a level and a wait, and every other dropped far enough away."""
    found: list[slice] = []
    for other, axis in enumerate(problem.axes):
        if other == number:
            found += [slice(level, level + 1), slice(wait, wait + 1)]
        else:
            found += [slice(None), slice(0, axis.wait - problem.apart + 1)]
    return tuple(found)


def _before(problem: Problem, values: Array, state: tuple[int, ...]) -> tuple[int, ...]:
    """The state at the node before that led to ``state``; ``values`` are those of that node."""
    dropped = [n for n, axis in enumerate(problem.axes) if state[2 * n + 1] == axis.wait]
    if not dropped:
        return min(_sources(problem, state), key=lambda source: values[source])
    (number,) = dropped
    found: list[tuple[float, tuple[int, ...]]] = []
    for move in problem.axes[number].moves:
        if move.after == state[2 * number]:
            undone = (*state[: 2 * number], move.before, 0, *state[2 * number + 2 :])
            best = min(_sources(problem, undone), key=lambda source: values[source])
            found.append((float(values[best]) + move.cost, best))
    return min(found)[1]


def _sources(problem: Problem, state: tuple[int, ...]) -> Sequence[tuple[int, ...]]:
    """States that wait one node longer each, or have none to wait for."""
    waits: list[tuple[int, ...]] = []
    for number, axis in enumerate(problem.axes):
        wait = state[2 * number + 1]
        waits.append((wait + 1,) if wait else (0, 1) if axis.wait else (0,))
    return [
        tuple(place for level, wait in zip(state[::2], found, strict=True) for place in (level, wait))
        for found in product(*waits)
        if all(wait <= axis.wait for wait, axis in zip(found, problem.axes, strict=True))
    ]
