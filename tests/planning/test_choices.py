"""Several good plans side by side: what each is called is true of it, whatever is asked."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from plaitlog.models.planning.asked import Asked, AskedLayer, Rules, Target
from plaitlog.models.planning.states import problem_of, with_dearer_drops
from plaitlog.models.taper import Shape
from plaitlog.models.whip import Cord, Fate, Whip
from plaitlog.service.usecases.planning.choices import FEWER_DROPS, Choice, choices
from plaitlog.service.usecases.planning.plan import Plan, best
from plaitlog.service.usecases.planning.sizes import sizes_by
from tests.planning.drawn_plans import IN_FORCE

CORDS = {
    name: Cord(name=name, construction="cored", material="nylon", diameter_mm=size)
    for name, size in (("Ridge 4 mm", 4.0), ("Fell 3 mm", 3.0), ("Beck 2.5 mm", 2.5))
}
TUCK = Fate("tuck", 80.0, gutted=True)
GRID = 20.0


def question(seed: int) -> Asked:
    """Two or three layers in one to three cords over less than a metre; some starts and ends given."""
    rng = np.random.default_rng(seed)
    length = float(rng.integers(25, 45)) * GRID
    shape = Shape(
        length_mm=length,
        thick_mm=float(rng.uniform(9, 15)),
        point_mm=float(rng.uniform(5, 7)),
        fullness=float(rng.uniform(0.35, 0.65)),
    )
    roles = ("core", "belly", "overlay") if rng.random() < 0.5 else ("core", "overlay")
    layers = tuple(
        AskedLayer(
            role=role,
            cord=CORDS[str(rng.choice(list(CORDS)))],
            fate=Fate("cut") if role == "core" else TUCK,
            start=int(2 * rng.integers(2, 6)) if rng.random() < 0.5 else None,
            ends=GRID * round(length * rng.uniform(0.3, 0.8) / GRID)
            if role != "overlay" and rng.random() < 0.5
            else None,
        )
        for role in roles
    )
    at = np.arange(round(length / GRID) + 1) * GRID
    return Asked(
        length_mm=length,
        layers=layers,
        target=Target(diameter_mm=shape.diameter_mm(at)),
        cords=CORDS,
        rules=Rules(grid_mm=GRID),
    )


@cache
def told(seed: int) -> list[Choice]:
    asked = question(seed)
    whip = Whip(
        label="next",
        maker="Orrin",
        status="planned",
        datum="handle end",
        thong_length_mm=asked.length_mm,
        handle_length_mm=0,
    )
    return choices(IN_FORCE, whip, asked, CORDS)


def cords(plan: Plan) -> set[str]:
    return {cord.cord for layer in plan.whip.layers for cord in layer.cords}


@pytest.mark.parametrize("seed", range(10))
def test_every_word_is_true(seed: int) -> None:
    found = told(seed)
    first = found[0].plan
    assert [one.words.startswith("as asked for") for one in found] == [True] + [False] * (len(found) - 1)
    closest = [one.plan.misfit_mm for one in found if "closest to the target" in one.words]
    assert closest == [min(one.plan.misfit_mm for one in found)]
    for number, one in enumerate(found):
        what = one.words.split(",")[0]
        assert all(one.plan.whip.layers != other.plan.whip.layers for other in found[:number])
        if number:
            said = "closer to the target" in one.words or "closest to the target" in one.words
            assert said == (one.plan.misfit_mm < first.misfit_mm)
        if what == "fewer drops":
            assert one.plan.drops < first.drops
        elif what.startswith("fewer cords: all of "):
            assert cords(one.plan) == {what.removeprefix("fewer cords: all of ")}
            assert len(cords(first)) > 1
        elif what == "without a belly":
            assert "belly" in [layer.role for layer in first.whip.layers]
            assert "belly" not in [layer.role for layer in one.plan.whip.layers]
        elif what == "other starts and ends":
            assert one.plan.misfit_mm < first.misfit_mm
        else:
            assert what == "as asked for"


def test_all_kinds_are_told_somewhere_and_none_everywhere() -> None:
    """Else the words above would be true of nothing."""
    every = [[one.words.split(",")[0].split(":")[0] for one in told(seed)] for seed in range(10)]
    for words in ("fewer drops", "fewer cords", "without a belly", "other starts and ends"):
        assert 0 < sum(words in one for one in every) < len(every)


def test_drops_made_dearer_afterwards_are_those_of_dearer_rules() -> None:
    asked, predict = question(0), sizes_by(IN_FORCE, "Orrin")
    dearer = replace(asked, rules=replace(asked.rules, drop_cost=asked.rules.drop_cost * FEWER_DROPS))
    problem, levels = problem_of(asked, predict)
    same, _ = problem_of(dearer, predict)
    moves = [axis.moves for axis in with_dearer_drops(problem, levels, FEWER_DROPS).axes]
    assert [[move.before, move.after] for axis in moves for move in axis] == [
        [move.before, move.after] for axis in same.axes for move in axis.moves
    ]
    for before, after in zip(moves, [axis.moves for axis in same.axes], strict=True):
        assert [move.cost for move in before] == pytest.approx([move.cost for move in after])
    (_, _, _), (fewer, _, _) = best(asked, predict, (1.0, FEWER_DROPS))
    assert fewer.cost == pytest.approx(best(dearer, predict)[0][0].cost)
