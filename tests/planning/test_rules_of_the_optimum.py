"""Plans of three layers under all rules of the bench against every schedule that those rules allow.

The oracle knows the rules in millimetres and strands, as they are written for a maker, and costs a schedule
station by station; it shares nothing with the search but what a stack comes out at, which is random.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from plaitlog.models.planning.asked import Asked, AskedLayer, Rules, Target
from plaitlog.models.planning.drawn_up import drawn_up
from plaitlog.models.planning.optimum import optimum
from plaitlog.models.planning.states import OFF_COVER, Sizes, problem_of
from plaitlog.models.stack import Stack
from plaitlog.models.whip import Fate, Layer
from tests.planning.by_geometry import CORDS, THICK, THIN

CASES = 2000
GRID = 20.0
Counts = tuple[int, int, int]
Inside = tuple[bool, bool, bool]
Since = tuple[float, float, float]


@dataclass
class Workshop:
    """What each stack comes out at, drawn when it is first asked for: by its strands and those tucked."""

    rng: np.random.Generator
    known: dict[tuple[Counts, Inside], tuple[float, float, dict[int, float]]] = field(default_factory=dict)

    def told(self, counts: Counts, inside: Inside) -> tuple[float, float, dict[int, float]]:
        """Logarithm of the diameter, its standard deviation, covers of belly and overlay by slot."""
        key = (counts, inside)
        if key not in self.known:
            size = 0.5 * np.log(4.0 + 3.0 * sum(counts) + 2.0 * sum(inside)) + self.rng.normal(0, 0.06)
            covers = {slot: float(self.rng.uniform(0.6, 1.15)) for slot in (2, 3) if counts[slot - 1]}
            self.known[key] = (float(size), float(self.rng.uniform(0.02, 0.08)), covers)
        return self.known[key]

    def predict(self, stacks: Sequence[Stack]) -> Sizes:
        told = [self.told(*_strands(stack)) for stack in stacks]
        return Sizes(
            log_mm=np.array([one[0] for one in told]),
            sd=np.array([one[1] for one in told]),
            covers=[one[2] for one in told],
        )


def _strands(stack: Stack) -> tuple[Counts, Inside]:
    counts, inside = [0, 0, 0], [False, False, False]
    for layer in stack.layers:
        if layer.role == "filler":
            inside[layer.slot - 1] = True
        else:
            counts[layer.slot - 1] = round(layer.count.mid)
    return tuple(counts), tuple(inside)  # type: ignore[return-value]


def question(rng: np.random.Generator) -> Asked:
    """A thong of six or seven stations: a core, often odd, over it a belly, over it an overlay."""
    nodes = int(rng.integers(6, 8))
    tucks = [None if rng.random() < 0.4 else float(rng.choice([20.0, 40.0])) for _ in range(2)]
    fates = [Fate("cut") if tuck is None else Fate("tuck", tuck) for tuck in tucks]
    start = 4.0 + 3.0 * 18
    wanted = np.sqrt(np.linspace(start, rng.uniform(15, 35), nodes))
    ends = float(rng.integers(2, nodes)) * GRID if rng.random() < 0.25 else None
    return Asked(
        length_mm=(nodes - 1) * GRID,
        layers=(
            AskedLayer(role="core", cord=THICK, start=int(rng.integers(2, 5)), ends=ends),
            AskedLayer(role="belly", cord=THIN, start=int(rng.choice([4, 6])), fate=fates[0]),
            AskedLayer(role="overlay", cord=THIN, start=int(rng.choice([8, 10])), fate=fates[1]),
        ),
        target=Target(
            diameter_mm=wanted,
            held_to_mm=float(rng.choice([0.0, 20.0, 40.0])),
            held_from_mm=(nodes - 1 - int(rng.integers(0, 2))) * GRID,
        ),
        cords=CORDS,
        rules=Rules(
            grid_mm=GRID,
            core_spacing_mm=float(rng.choice([20.0, 40.0])),
            plait_spacing_mm=float(rng.choice([20.0, 40.0, 60.0])),
            apart_mm=float(rng.choice([10.0, 20.0])),
            cover=(0.70, 1.05),
            drop_cost=float(rng.choice([0.05, 0.3])),
            irregular_cost=float(rng.choice([0.5, 5.0])),
        ),
    )


def least_cost(asked: Asked, workshop: Workshop) -> float:
    """Of every schedule, each gone through to its end; infinite where there is none."""
    rules, goal, last = asked.rules, asked.target, len(asked.target.diameter_mm) - 1
    layers = [one for one in asked.layers if isinstance(one, AskedLayer)]
    tucks = [one.fate.length_mm or 0.0 if one.fate.kind == "tuck" else 0.0 for one in layers]
    spacing = [
        max(rules.core_spacing_mm if one.role == "core" else rules.plait_spacing_mm, tuck, rules.apart_mm)
        for one, tuck in zip(layers, tucks, strict=True)
    ]

    @cache
    def here(at: float, counts: Counts, inside: Inside) -> float:
        """What a station costs."""
        ends = layers[0].ends
        if isinstance(ends, float) and (counts[0] == 0) != (at >= ends):
            return float("inf")
        size, sd, _ = workshop.told(counts, inside)
        cost = ((size - np.log(goal.diameter_mm[round(at / GRID)])) / sd) ** 2 * GRID / 100
        for cover in workshop.told(counts, (False, False, False))[2].values():
            off = max(rules.cover[0] - cover, cover - rules.cover[1], 0.0)
            cost += OFF_COVER * (1 + 10 * off) if off else 0.0
        odd = sum(count > 0 and count not in rules.regular for count in counts[1:])
        return float(cost + odd * rules.irregular_cost * GRID / 1000)

    def drops(slot: int, count: int) -> Iterator[tuple[int, float]]:
        """Counts after a drop, and what it costs."""
        layer = layers[slot]
        if layer.role == "core":
            if count > 1:
                yield count - 1, 0.0
                if layer.ends is not None:
                    yield 0, 100.0 * (count - 1)  # bluntly: only where it must end
            elif count:
                yield 0, 0.0
            return
        if count - 2 >= 4:
            yield count - 2, rules.drop_cost
        if count and layer.role == "belly":
            yield 0, 0.0

    def down(node: int, counts: Counts, since: Since) -> float:
        """From a station on; since: where each layer was dropped last."""
        at = node * GRID
        a, b, c = (bool(n) and at - x < tuck for n, x, tuck in zip(counts, since, tucks, strict=True))
        cost = here(at, counts, (a, b, c))
        if node == last or cost == float("inf"):
            return cost
        least = down(node + 1, counts, since)
        then = at + GRID
        if not goal.held_to_mm <= then <= goal.held_from_mm:
            return cost + least
        for slot in range(3):
            near = any(then - since[other] < rules.apart_mm for other in range(3) if other != slot)
            if near or then - since[slot] < spacing[slot]:
                continue
            for after, paid in drops(slot, counts[slot]):
                changed, dropped = list(counts), list(since)
                changed[slot], dropped[slot] = after, then
                least = min(least, paid + down(node + 1, tuple(changed), tuple(dropped)))  # type: ignore[arg-type]
        return cost + least

    core, belly, overlay = (one.start or 0 for one in layers)
    never = float("-inf")
    return down(0, (core, belly, overlay), (never, never, never))


def found(asked: Asked, workshop: Workshop) -> tuple[float, tuple[Layer, ...]]:
    problem, levels = problem_of(asked, workshop.predict)
    schedule = optimum(problem)
    if schedule is None:
        return float("inf"), ()
    return schedule.cost, drawn_up(asked, schedule, levels)


def test_the_optimum_under_all_rules_is_that_of_exhaustive_search() -> None:
    """Each rule binds, where it is left out the plan is cheaper, in a good share of the cases."""
    made = spaced = covered = odd = blunt = 0
    for seed in range(CASES):
        rng = np.random.default_rng(seed)
        asked, workshop = question(rng), Workshop(np.random.default_rng(seed + CASES))
        cost, layers = found(asked, workshop)
        assert cost == pytest.approx(least_cost(asked, workshop), rel=1e-9), seed
        if not layers:
            continue
        made += 1
        counts = [round(step.total.mid) for step in layers[0].schedule.steps]  # type: ignore[union-attr]
        odd += any(count % 2 and count > 1 for count in counts)
        blunt += any(was - now > 1 for was, now in pairwise(counts))
        if seed % 5:
            continue
        loose = replace(asked.rules, core_spacing_mm=GRID, plait_spacing_mm=GRID)
        spaced += found(replace(asked, rules=loose), workshop)[0] < cost - 1e-9
        covered += (
            found(replace(asked, rules=replace(asked.rules, cover=(0.0, 9.0))), workshop)[0] < cost - 1e-9
        )
    assert made > 0.9 * CASES
    assert odd > 0.3 * made
    assert blunt > 0.02 * made
    assert spaced > 0.15 * made / 5
    assert covered > 0.2 * made / 5
