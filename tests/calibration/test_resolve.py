"""Many stacks at once against one stack at a time, and derivatives against finite differences."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plaitlog.models.calibration.packed import ABSENT, PLAIT, pack
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.calibration.stack_columns import mean_float
from plaitlog.models.geometry import CONSTANTS, geometric_diameter
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Span, exactly
from tests.calibration.laid_whips import CORDS

GROUP = st.builds(
    lambda cord, count, gutted: StrandGroup(cord, exactly(count), gutted),
    st.sampled_from(list(CORDS.values())),
    st.integers(1, 24),
    st.booleans(),
)
LAYER = st.one_of(
    st.builds(
        lambda role, groups, slot: StackLayer(role=role, groups=tuple(groups), slot=slot),
        st.sampled_from(["core", "filler", "belly", "overlay"]),
        st.lists(GROUP, min_size=1, max_size=2),
        st.integers(1, 6),
    ),
    st.builds(
        lambda groups, turn: StackLayer(role="overlay", groups=tuple(groups), turn_mm=turn),
        st.lists(GROUP, min_size=1, max_size=2),
        st.floats(20, 200),
    ),
    st.builds(lambda t: StackLayer(role="binding", thickness_mm=t), st.floats(0.05, 2)),
    st.builds(lambda d: StackLayer(role="core", diameter_mm=d), st.floats(2, 15)),
)
STACK = st.builds(
    lambda layers, foundation: Stack(tuple(layers), foundation),
    st.lists(LAYER, min_size=1, max_size=5),
    st.sampled_from([0.0, 6.0]),
)
STACKS = st.lists(STACK, min_size=1, max_size=5)


@settings(deadline=None)
@given(STACKS)
def test_packed_stacks_resolve_like_single_ones(stacks: list[Stack]) -> None:
    packed = pack(stacks, CONSTANTS)
    found = resolve(packed, np.zeros(packed.kind.shape), CONSTANTS)
    for row, stack in enumerate(stacks):
        single = geometric_diameter(stack)
        assert found.diameter[row] == pytest.approx(single.diameter_mm, rel=1e-9)
        for place, layer in enumerate(single.layers):
            assert found.outer[row, place] == pytest.approx(layer.outer_mm, rel=1e-9)
            if layer.cover is not None:
                assert found.cover[row, place] == pytest.approx(layer.cover, rel=1e-9)
        assert (packed.kind[row, len(stack.layers) :] == ABSENT).all()


@settings(deadline=None)
@given(STACKS, st.integers(0, 2**32 - 1))
def test_the_jacobian_is_the_finite_difference(stacks: list[Stack], seed: int) -> None:
    packed = pack(stacks, CONSTANTS)
    eta = np.random.default_rng(seed).normal(0, 0.1, packed.kind.shape)
    step = 1e-5
    found = resolve(packed, eta, CONSTANTS)
    for place in range(packed.kind.shape[1]):
        moved = np.zeros_like(eta)
        moved[:, place] = step
        high, low = (resolve(packed, eta + sign * moved, CONSTANTS) for sign in (1, -1))
        slope = np.log(high.diameter / low.diameter) / (2 * step)
        # At a clipped angle the law has a corner: a difference across it is no derivative.
        corner = ((packed.kind == PLAIT) & _near_a_corner(found.cover)).any(axis=1)
        assert found.jacobian[~corner, place] == pytest.approx(slope[~corner], abs=2e-6)


def _near_a_corner(cover: np.ndarray) -> np.ndarray:
    free = np.cos(np.radians(CONSTANTS.angle_deg)) ** (1 - CONSTANTS.gamma)
    cosine = free * cover**CONSTANTS.gamma
    return (np.abs(cosine - 0.34) < 1e-3) | (np.abs(cosine - 0.97) < 1e-3)


def test_a_given_diameter_cuts_off_what_lies_inside() -> None:
    cord = CORDS["Ridge"]
    group = (StrandGroup(cord, exactly(8)),)
    stack = Stack((StackLayer(role="core", groups=group), StackLayer(role="bolster", diameter_mm=12.0)), 4.0)
    packed = pack([stack], CONSTANTS)
    found = resolve(packed, np.zeros((1, 2)), CONSTANTS)
    assert found.diameter[0] == 12.0
    assert (found.jacobian == 0).all()
    assert found.pulled[0] == 0.0


def test_the_pull_reaches_all_but_the_foundation() -> None:
    group = (StrandGroup(CORDS["Ridge"], exactly(12)),)
    stacks = [Stack((StackLayer(role="overlay", groups=group),), d) for d in (0.0, 10.0)]
    found = resolve(pack(stacks, CONSTANTS), np.zeros((2, 1)), CONSTANTS)
    assert found.pulled[0] == pytest.approx(1.0)
    assert found.pulled[1] == pytest.approx(1 - 10.0**2 / found.diameter[1] ** 2)


def test_a_layer_in_which_nothing_runs_is_absent() -> None:
    empty = StackLayer(role="overlay", groups=(StrandGroup(CORDS["Ridge"], Span(0, 0)),))
    packed = pack([Stack((empty,), 5.0)], CONSTANTS)
    assert packed.kind[0, 0] == ABSENT
    assert resolve(packed, np.zeros((1, 1)), CONSTANTS).diameter[0] == 5.0


@pytest.mark.parametrize(("pattern", "mean"), [("u2o2u2o2", 2.0), ("u1o2", 1.5), (None, 0.0), ("", 0.0)])
def test_mean_float(pattern: str | None, mean: float) -> None:
    assert mean_float(pattern) == mean
