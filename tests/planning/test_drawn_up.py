"""A plan as it is drawn up costs what the optimum says, keeps the rules, and beats what is near it."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from plaitlog.models.planning.asked import CUT, Asked, AskedLayer, Rules, Target
from plaitlog.models.planning.drawn_up import drawn_up
from plaitlog.models.planning.optimum import optimum
from plaitlog.models.planning.shares import CordShare
from plaitlog.models.planning.states import problem_of
from plaitlog.models.stack import stack_at
from plaitlog.models.taper import Shape
from plaitlog.models.whip import Fate, Layer, Whip
from tests.planning.by_geometry import CORDS, SD, THICK, THIN, predict

LENGTH = 1500.0
TUCK, RUN = Fate("tuck", 80.0, gutted=True), Fate("run")


def asked(*layers: AskedLayer | Layer, **rules: object) -> Asked:
    shape = Shape(length_mm=LENGTH, thick_mm=14, point_mm=6, parallel_thick_mm=300, parallel_point_mm=180)
    at = np.arange(151) * 10.0
    return Asked(
        length_mm=LENGTH,
        layers=layers,
        target=Target(diameter_mm=shape.diameter_mm(at), held_to_mm=300, held_from_mm=LENGTH - 180),
        cords=CORDS,
        rules=Rules(**rules),  # type: ignore[arg-type]
    )


def core(**facts: object) -> AskedLayer:
    return AskedLayer(role="core", cord=THICK, **facts)  # type: ignore[arg-type]


def belly(**facts: object) -> AskedLayer:
    return AskedLayer(role="belly", cord=THIN, **facts)  # type: ignore[arg-type]


def overlay(**facts: object) -> AskedLayer:
    return AskedLayer(role="overlay", cord=THIN, **facts)  # type: ignore[arg-type]


def planned(question: Asked) -> tuple[Whip, float]:
    problem, levels = problem_of(question, predict)
    found = optimum(problem)
    assert found is not None
    layers = drawn_up(question, found, levels)
    whip = Whip(
        label="next", status="planned", datum="handle end", thong_length_mm=LENGTH, handle_length_mm=0,
        layers=layers,
    )  # fmt: skip
    return whip, found.cost


def counts(layer: Layer) -> list[tuple[float, int]]:
    assert layer.schedule is not None
    return [(step.place.low_mm, round(step.total.mid)) for step in layer.schedule.steps]


def cost_of(whip: Whip, question: Asked) -> float:
    """From the record alone: stacks at every node, as they are recorded, against the target."""
    rules, total = question.rules, 0.0
    for node, wanted in enumerate(question.target.diameter_mm):
        stack = stack_at(whip, node * rules.grid_mm, CORDS)
        off = (float(predict([stack]).log_mm[0]) - np.log(wanted)) / SD
        total += off**2 * rules.grid_mm / 100
        for layer in stack.layers:
            if layer.role in ("belly", "overlay") and layer.count.mid not in rules.regular:
                total += rules.irregular_cost * rules.grid_mm / 1000
    for layer in whip.layers:
        if layer.role in ("belly", "overlay"):
            total += rules.drop_cost * sum(after > 0 for _, after in counts(layer)[1:])
    return total


TWO = (CordShare(THIN, 8), CordShare(THICK, 4))
CASES = [
    (core(start=6), overlay(start=18, fate=TUCK)),
    (core(start=5), overlay(start=18, fate=RUN)),
    (core(start=5), overlay(start=18, fate=Fate("run", gutted=True, until_mm=900.0))),
    (core(start=5), overlay(start=18, fate=Fate("tuck"))),
    (core(start=4), belly(start=8, fate=TUCK), overlay(start=18, fate=TUCK)),
    (core(start=6, ends=700.0), overlay(start=18, fate=CUT)),
    (core(start=5), overlay(start=12, fate=TUCK, mixed=TWO)),
    (core(start=5), overlay(start=12, fate=RUN, mixed=TWO)),
    (Layer(role="core", diameter_mm=8.0, to_mm=600.0), overlay(start=18, fate=TUCK)),
]


@pytest.mark.parametrize("layers", CASES)
def test_the_record_of_a_plan_costs_what_the_optimum_says(layers: tuple[AskedLayer | Layer, ...]) -> None:
    question = asked(*layers, cover=(0.0, 9.0))
    whip, cost = planned(question)
    assert cost == pytest.approx(cost_of(whip, question), rel=1e-9)


@pytest.mark.parametrize("layers", CASES)
def test_a_plan_keeps_the_rules(layers: tuple[AskedLayer | Layer, ...]) -> None:
    question = asked(*layers)
    whip, _ = planned(question)
    drops: list[tuple[float, int]] = []
    for slot, layer in enumerate(whip.layers):
        if layer.schedule is None:
            continue
        steps = counts(layer)
        spacing = question.rules.core_spacing_mm if layer.role == "core" else question.rules.plait_spacing_mm
        tuck = layer.fate.length_mm if layer.fate and layer.fate.kind == "tuck" else 0.0
        for (at, before), (then, after) in pairwise(steps):
            assert after < before
            assert layer.role == "core" or after % 2 == 0
            assert layer.role != "core" or after == before - 1
            assert 300 <= then <= LENGTH - 180
            assert at == 0 or then - at >= max(spacing, tuck or 0.0) - 1e-9
        drops += [(at, slot) for at, _ in steps[1:]]
    for (at, one), (then, other) in pairwise(sorted(drops)):
        assert one == other or then - at >= question.rules.apart_mm


def test_a_core_that_must_end_ends_there() -> None:
    whip, _ = planned(asked(core(start=6, ends=700.0), overlay(start=18, fate=TUCK)))
    assert counts(whip.layers[0])[-1] == (700.0, 0)


def test_open_starts_are_no_worse_than_any_given_start() -> None:
    free = replace(core(), start=None)
    _, best = planned(asked(free, replace(overlay(fate=TUCK), start=None)))
    for inside in (2, 4, 5):
        for outside in (16, 18, 20):
            _, cost = planned(asked(core(start=inside), overlay(start=outside, fate=TUCK)))
            assert best <= cost + 1e-9


def test_strands_of_a_binding_are_not_planned_and_an_overlay_does_not_end() -> None:
    with pytest.raises(ValueError, match="give it as it is"):
        AskedLayer(role="binding", cord=THIN)
    with pytest.raises(ValueError, match="runs to the point"):
        AskedLayer(role="overlay", cord=THIN, ends=500.0)


def test_only_what_lies_ahead_of_a_layer_on_the_bench_moves() -> None:
    """Planned again from a record plaited to 700 mm: the best that was is the best still."""
    question = asked(core(start=6), overlay(start=18, fate=TUCK))
    whip, _ = planned(question)
    settled, on_bench = whip.layers
    assert on_bench.schedule is not None
    done = [step for step in on_bench.schedule.steps if step.place.high_mm <= 700]
    begun = replace(overlay(fate=TUCK), start=round(done[-1].total.mid), begun=on_bench, begun_to_mm=700.0)
    again, _ = planned(asked(settled, begun))
    assert again.layers[1] == on_bench
    thinner = asked(settled, begun)
    wanted = thinner.target.diameter_mm.copy()
    wanted[70:] *= 0.9
    moved, _ = planned(replace(thinner, target=replace(thinner.target, diameter_mm=wanted)))
    after = counts(moved.layers[1])
    assert after != counts(on_bench)
    assert [one for one in after if one[0] <= 700] == [one for one in counts(on_bench) if one[0] <= 700]
    last = max(at for at, _ in after if at <= 700)
    assert all(at >= max(700, last + 80) for at, _ in after if at > 700)
