"""The wall as a fixed point, and stacks resolved from the inside out."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.geometry import (
    CONSTANTS,
    COS_LIMITS,
    GeometryConstants,
    area_is_measured,
    cord_diameter_mm,
    flat_width_mm,
    geometric_diameter,
    plait_cos,
    solve_wall,
    strand_area_mm2,
    wall_elasticity,
)
from plaitlog.models.stack import Stack, StackLayer, StackRole, StrandGroup
from plaitlog.models.whip import Construction, Cord, Span, exactly

INNER = st.one_of(st.just(0.0), st.floats(0.5, 30))
BULK = st.floats(5, 400)
WIDTH = st.floats(5, 100)
GAMMA = st.floats(0, 1)


def cord(**sizes: float | None) -> Cord:
    construction: Construction = "cored"
    return Cord(name="Ridge 4 mm", material="nylon", construction=construction, **sizes)  # type: ignore[arg-type]


RIDGE = cord(diameter_mm=4.0, linear_density_g_per_m=6.6)


def layer(role: StackRole, strands: float, gutted: bool = False) -> StackLayer:
    return StackLayer(role=role, groups=(StrandGroup(RIDGE, exactly(strands), gutted),))


def assert_solved(inner: float, bulk: float, width: float, gamma: float) -> None:
    wall = solve_wall(inner, bulk, width, gamma=gamma)
    mean = (inner + float(wall.outer_mm)) / 2
    cosine = float(plait_cos(width / (2 * math.pi * mean), gamma))
    assert float(wall.outer_mm) ** 2 == pytest.approx(inner**2 + bulk / cosine, rel=1e-9)
    assert float(wall.added_mm2) == pytest.approx(bulk / cosine, rel=1e-9)
    assert float(wall.cover) == pytest.approx(width / (2 * math.pi * mean), rel=1e-9)


@given(INNER, BULK, WIDTH, GAMMA)
def test_a_wall_solves_its_own_equation(inner: float, bulk: float, width: float, gamma: float) -> None:
    assert_solved(inner, bulk, width, gamma)


@given(INNER, BULK, st.floats(0.05, 1), st.sampled_from(COS_LIMITS), st.floats(-1e-6, 1e-6))
def test_a_wall_solves_its_own_equation_beside_a_limit_of_the_angle(
    inner: float, bulk: float, gamma: float, limit: float, beside: float
) -> None:
    mean = (inner + math.sqrt(inner**2 + bulk / limit)) / 2
    free = math.cos(math.radians(CONSTANTS.angle_deg)) ** (1 - gamma)
    width = 2 * math.pi * mean * (limit / free) ** (1 / gamma) * (1 + beside)
    assert_solved(inner, bulk, width, gamma)


@given(INNER, BULK, WIDTH, st.floats(5, 5_000))
def test_a_wall_with_a_measured_turn_solves_its_own_equation(
    inner: float, bulk: float, width: float, turn: float
) -> None:
    wall = solve_wall(inner, bulk, width, turn)
    slope = math.pi * (inner + float(wall.outer_mm)) / 2 / turn
    assert float(wall.outer_mm) ** 2 == pytest.approx(inner**2 + bulk * math.hypot(1, slope), rel=1e-12)


@given(INNER, BULK, WIDTH, GAMMA)
def test_elasticity_is_the_finite_difference(inner: float, bulk: float, width: float, gamma: float) -> None:
    step = 1e-5
    wall = solve_wall(inner, bulk, width, gamma=gamma)
    low, high = (solve_wall(inner, bulk * math.exp(s), width, gamma=gamma) for s in (-step, step))
    slope = (math.log(float(high.added_mm2)) - math.log(float(low.added_mm2))) / (2 * step)
    inside = all(COS_LIMITS[0] < float(w.cos_angle) < COS_LIMITS[1] for w in (low, wall, high))
    clipped = all(float(w.cos_angle) in COS_LIMITS for w in (low, wall, high))
    if inside:
        assert float(wall.elasticity) == pytest.approx(slope, rel=1e-5)
        told = wall_elasticity(gamma, wall.added_mm2, inner, wall.outer_mm)
        assert float(told) == pytest.approx(slope, rel=1e-5)
    if clipped:
        assert float(wall.elasticity) == pytest.approx(1.0)
        assert slope == pytest.approx(1.0, rel=1e-5)


def test_elasticity_is_two_without_a_core_at_the_closing_angle() -> None:
    wall = solve_wall(0.0, 50.0, 20.0, gamma=1.0)
    assert COS_LIMITS[0] < float(wall.cos_angle) < COS_LIMITS[1]
    assert float(wall.elasticity) == pytest.approx(2.0)


@pytest.mark.parametrize("strands", [12, 16, 20, 24])
def test_at_the_closing_angle_the_wall_is_four_flattened_strands(strands: int) -> None:
    area, width, packing, inner = 5.8, 4.4, 0.6, 14.0
    wall = solve_wall(inner, 4 / math.pi * strands * area / packing, strands * width, gamma=1.0)
    assert float(wall.outer_mm) - inner == pytest.approx(4 * area / (packing * width), rel=1e-9)


def test_at_a_fixed_angle_the_wall_grows_with_its_strands() -> None:
    outer = [float(solve_wall(14.0, 12.0 * n, 4.4 * n, gamma=0.0).outer_mm) for n in (8, 16)]
    assert outer[1] ** 2 - 14**2 == pytest.approx(2 * (outer[0] ** 2 - 14**2))


@given(INNER, BULK, st.floats(20, 200))
def test_a_turn_length_sets_the_angle(inner: float, bulk: float, turn: float) -> None:
    wall = solve_wall(inner, bulk, 40.0, turn)
    tangent = math.tan(math.acos(float(wall.cos_angle)))
    assert tangent == pytest.approx(math.pi * float(wall.mean_mm) / turn, rel=1e-6)
    assert float(wall.outer_mm) ** 2 == pytest.approx(inner**2 + bulk / float(wall.cos_angle), rel=1e-8)


def test_strands_of_several_cords_add_up() -> None:
    half = StrandGroup(RIDGE, exactly(8))
    split = Stack((StackLayer(role="overlay", groups=(half, half)),), 10.0)
    whole = Stack((layer("overlay", 16),), 10.0)
    assert geometric_diameter(split).diameter_mm == pytest.approx(geometric_diameter(whole).diameter_mm)


def test_layers_without_strands_replace_or_add_twice_their_thickness() -> None:
    taped = Stack((layer("core", 6), StackLayer(role="binding", thickness_mm=0.2)))
    bare = Stack((layer("core", 6),))
    rope = Stack((layer("core", 6), StackLayer(role="bolster", diameter_mm=11.0)))
    assert geometric_diameter(taped).diameter_mm == pytest.approx(geometric_diameter(bare).diameter_mm + 0.4)
    assert geometric_diameter(rope).diameter_mm == 11.0


def test_gutted_filler_counts_with_its_sheath_only() -> None:
    whole, gutted = (
        geometric_diameter(Stack((layer("filler", 4, emptied),), 8.0)).layers[0].added_mm2
        for emptied in (False, True)
    )
    assert gutted == pytest.approx(CONSTANTS.sheath_share * whole)


def test_a_cord_bought_gutted_is_not_emptied_twice() -> None:
    empty = Cord(
        name="Fell", material="nylon", construction="gutted", diameter_mm=3.0, linear_density_g_per_m=3.0
    )
    assert strand_area_mm2(empty, gutted=True) == strand_area_mm2(empty)


def test_sizes_that_are_not_noted_are_filled_in() -> None:
    weighed, sized, bare = cord(linear_density_g_per_m=6.614), cord(diameter_mm=4.0), cord()
    assert cord_diameter_mm(weighed) == pytest.approx(4.0, rel=0.01)
    assert strand_area_mm2(sized) == pytest.approx(5.80, rel=0.01)
    assert area_is_measured(weighed)
    assert not area_is_measured(sized)
    assert geometric_diameter(
        Stack((StackLayer(role="overlay", groups=(StrandGroup(bare, exactly(8)),)),))
    ).diameter_mm == pytest.approx(geometric_diameter(Stack((layer("overlay", 8),))).diameter_mm, rel=0.01)
    assert flat_width_mm(cord(flat_width_mm=4.7)) == 4.7
    assert flat_width_mm(cord(flat_width_mm=4.7), gutted=True) == pytest.approx(4.0 * CONSTANTS.width_gutted)


def test_a_range_of_strands_counts_at_its_middle() -> None:
    ranged = StackLayer(role="overlay", groups=(StrandGroup(RIDGE, Span(12, 16)),))
    assert geometric_diameter(Stack((ranged,))).diameter_mm == pytest.approx(
        geometric_diameter(Stack((layer("overlay", 14),))).diameter_mm
    )


def test_mass_per_length_follows_path_and_count() -> None:
    found = geometric_diameter(Stack((layer("core", 6), layer("overlay", 16))))
    wall = found.layers[1]
    assert wall.cos_angle is not None
    path = CONSTANTS.crimp / (wall.cos_angle * (1 + CONSTANTS.stretch))
    assert found.mass_g_per_m == pytest.approx(6 * 6.6 + 16 * 6.6 * path)


def test_constants_reach_the_diameter() -> None:
    stack = Stack((layer("core", 6), layer("overlay", 16)))
    sizes = [
        geometric_diameter(stack, GeometryConstants(**changed)).diameter_mm
        for changed in ({}, {"packing_core": 0.5}, {"packing_plait": 0.5}, {"angle_deg": 50.0})
    ]
    assert all(size > sizes[0] for size in sizes[1:])


def test_arrays_broadcast() -> None:
    wall = solve_wall(np.array([0.0, 5.0, 10.0])[:, None], 60.0, np.array([30.0, 60.0]))
    assert wall.outer_mm.shape == (3, 2)
    assert float(wall.outer_mm[1, 1]) == pytest.approx(float(solve_wall(5.0, 60.0, 60.0).outer_mm))
