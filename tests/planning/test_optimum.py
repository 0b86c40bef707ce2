"""The optimum is that of exhaustive search: on thousands of small random cases with three layers."""

import math
from collections.abc import Iterator
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plaitlog.models.planning.optimum import Axis, Move, Problem, Stretch, optimum


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """One to three axes of up to four levels, some thinned singly; up to eight nodes; states forbidden."""
    nodes = draw(st.integers(2, 8))
    apart = draw(st.integers(1, 2))
    axes = []
    for number in range(draw(st.integers(1, 3))):
        levels = draw(st.integers(2, 4 if number == 0 else 3))
        # From any level down to any lower one, or singly; the last level stands for "ended".
        singly = draw(st.booleans())
        moves = [
            Move(a, b, draw(st.sampled_from((0.0, 0.0, 0.3))))
            for a in range(levels)
            for b in range(a + 1, levels)
            if not singly or b == a + 1
        ]
        axes.append(
            Axis(
                levels=levels,
                moves=tuple(moves),
                wait=draw(st.integers(apart, 3)),
                allowed=np.array(draw(st.lists(st.booleans(), min_size=nodes, max_size=nodes))),
            )
        )
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    shape = tuple(size for axis in axes for size in (axis.levels, axis.wait + 1))
    cut = draw(st.integers(1, nodes))
    bounds = [(0, cut - 1), (cut, nodes - 1)] if cut < nodes else [(0, nodes - 1)]
    stretches = tuple(
        Stretch(
            first=first,
            last=last,
            log_size=rng.normal(2, 0.5, shape),
            inverse_sd=rng.uniform(1, 5, shape),
            extra=np.where(rng.uniform(size=shape) < 0.2, math.inf, rng.uniform(0, 0.2, shape)),
        )
        for first, last in bounds
    )
    every = list(product(*(range(axis.levels) for axis in axes)))
    starts = draw(st.lists(st.sampled_from(every), min_size=1, max_size=6, unique=True))
    return Problem(
        axes=tuple(axes),
        starts=tuple(starts),
        log_target=rng.normal(2, 0.5, nodes),
        stretches=stretches,
        apart=apart,
    )


def schedules(problem: Problem) -> Iterator[tuple[list[tuple[int, ...]], float]]:
    """Every schedule that the rules allow, with its cost: by going down every branch, keeping nothing."""
    nodes, number = len(problem.log_target), len(problem.axes)

    def cost(node: int, levels: list[int], since: list[int]) -> float:
        """since: nodes since the last drop of each axis."""
        place: list[int] = []
        for axis, level, ago in zip(problem.axes, levels, since, strict=True):
            place += [level, max(axis.wait - ago, 0)]
        (stretch,) = [one for one in problem.stretches if one.first <= node <= one.last]
        at = tuple(place)
        off = (stretch.log_size[at] - problem.log_target[node]) * stretch.inverse_sd[at]
        return float(off**2 + stretch.extra[at])

    def down(
        node: int, levels: list[int], since: list[int], sofar: float
    ) -> Iterator[tuple[list[tuple[int, ...]], float]]:
        here = sofar + cost(node, levels, since)
        if math.isinf(here):
            return
        if node == nodes - 1:
            yield [tuple(levels)], here
            return
        later = [ago + 1 for ago in since]
        choices: list[tuple[list[int], list[int], float]] = [(levels, later, 0.0)]
        for k, axis in enumerate(problem.axes):
            near = [later[other] < problem.apart for other in range(number) if other != k]
            if not axis.allowed[node + 1] or later[k] < axis.wait or any(near):
                continue
            for move in axis.moves:
                if move.before == levels[k]:
                    moved, dropped = list(levels), list(later)
                    moved[k], dropped[k] = move.after, 0
                    choices.append((moved, dropped, move.cost))
        for moved, dropped, paid in choices:
            for path, total in down(node + 1, moved, dropped, here + paid):
                yield [tuple(levels), *path], total

    for start in problem.starts:
        yield from down(0, list(start), [99] * number, 0.0)


@settings(max_examples=2000)
@given(problem=problems())
def test_the_optimum_is_that_of_exhaustive_search(problem: Problem) -> None:
    found = optimum(problem)
    every = list(schedules(problem))
    if not every:
        assert found is None
        return
    assert found is not None
    assert found.cost == pytest.approx(min(cost for _, cost in every), rel=1e-12, abs=1e-12)
    paths = {tuple(path): cost for path, cost in every}
    told = tuple(map(tuple, found.levels.tolist()))
    same = [cost for path, cost in every if tuple(path) == told]
    assert told in paths
    assert min(same) == pytest.approx(found.cost, rel=1e-12, abs=1e-12)


def test_drops_of_one_layer_wait_at_least_as_long_as_those_of_two() -> None:
    axis = Axis(levels=2, moves=(Move(0, 1),), wait=1, allowed=np.ones(4, dtype=bool))
    flat = np.zeros((2, 2))
    stretch = Stretch(first=0, last=3, log_size=flat, inverse_sd=flat, extra=flat)
    with pytest.raises(ValueError, match="wait"):
        Problem(axes=(axis,), starts=((0,),), log_target=np.zeros(4), stretches=(stretch,), apart=2)
