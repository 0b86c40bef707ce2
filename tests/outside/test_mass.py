"""Mass, balance and cord use against closed forms and against strands laid numerically along helices."""

import math
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.mass import MassDistribution, MassSection, mass_distribution
from plaitlog.models.whip import (
    Cord,
    Foundation,
    Layer,
    LayerCord,
    Place,
    Span,
    Step,
    StrandSchedule,
    TurnLength,
    Whip,
)
from plaitlog.models.whole_mass import whole_mass

CORD = Cord(
    name="Ridge 4 mm",
    construction="cored",
    material="nylon",
    diameter_mm=4.0,
    linear_density_g_per_m=6.6,
)
CRIMP, STRETCH, PACKING, NYLON, STEEL = 1.03, 0.05, 0.58, 1.14, 7.85


def layer(role: str, *steps: tuple[float, int]) -> Layer:
    """A layer of the one cord; steps are (station in mm, count)."""
    schedule = StrandSchedule(
        tuple(Step(Place(at, at), (Span(count, count),)) for at, count in steps), rest="point"
    )
    return Layer(role=role, cords=(LayerCord(CORD.name),), schedule=schedule)  # type: ignore[arg-type]


def whip(*layers: Layer, length_mm: float = 1000.0, **facts: object) -> Whip:
    return Whip(
        label="W",
        status="finished",
        datum="handle end",
        thong_length_mm=length_mm,
        layers=layers,
        **facts,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("thick", "thin", "length", "mass", "centre", "about_end", "about_axis"),
    [
        (3, 1, 10, 136.135681656, 45 / 13, 2703.34047841, 380.132711084),
        (2, 1, 6, 43.9822971503, 2.35714285714, 391.128285372, 58.4336233568),
        (10, 2, 1000, 129852.496348, 306.451612903, 19270397809.1, 3925734.17993),
        (1, 0, 4, 4.18879020479, 1.0, 7.33038285838, 1.25663706144),
        (1, 1, 4, 12.5663706144, 2.0, 70.1622359302, 6.28318530718),
    ],
)
def test_a_tapered_rod_has_the_mass_centre_and_inertia_of_a_frustum(
    thick: float, thin: float, length: float, mass: float, centre: float, about_end: float, about_axis: float
) -> None:
    """Frustum of density 1; a thin line has the moment about a diameter less half that about the axis."""
    edges = np.linspace(0.0, length, 20_001)
    middle = (edges[1:] + edges[:-1]) / 2
    masses = math.pi * (thick + (thin - thick) * middle / length) ** 2 * np.diff(edges)
    rod = MassDistribution(
        tuple(
            MassSection(float(low), float(high), float(grams), {}, {})
            for low, high, grams in zip(edges[:-1], edges[1:], masses, strict=True)
        )
    )
    assert rod.mass_g == pytest.approx(mass, rel=1e-8)
    assert rod.balance_mm == pytest.approx(centre, rel=1e-8)
    assert rod.inertia_g_mm2() == pytest.approx(about_end - about_axis / 2, rel=1e-8)


def test_a_stepped_core_weighs_what_its_parallel_strands_weigh() -> None:
    stepped = mass_distribution(whip(layer("core", (0, 8), (250, 4), (600, 2))), {CORD.name: CORD})
    metres = 8 * 0.25 + 4 * 0.35 + 2 * 0.4
    assert stepped.cord_use_m == {CORD.name: pytest.approx(metres)}
    assert stepped.mass_g == pytest.approx(6.6 * metres)
    assert stepped.balance_mm == pytest.approx((2 * 125 + 1.4 * 425 + 0.8 * 800) / metres)


def test_a_plait_over_a_steel_rod_weighs_what_strands_laid_along_helices_weigh() -> None:
    """Rod of 12 mm, 12 strands at a measured turn length of 60 mm: each helix is summed as a polyline."""
    turns = tuple(TurnLength(at_mm=at, turn_mm=60.0) for at in (0.0, 500.0, 1000.0))
    rod_inside = Foundation(diameter_mm=12, to_mm=1000, material="steel")
    made = whip(layer("overlay", (0, 12)), foundation=rod_inside, turn_lengths=turns)
    found = mass_distribution(made, {CORD.name: CORD})

    outer, fibre = 20.0, 12 * 6.6 / NYLON
    for _ in range(200):
        radius = (12 + outer) / 4
        along = np.linspace(0.0, 1000.0, 400_001)
        turn = 2 * math.pi * along / 60.0
        places = np.stack([radius * np.cos(turn), radius * np.sin(turn), along])
        helix = float(np.linalg.norm(np.diff(places[:, :401], axis=1), axis=0).sum()) * 1000
        settled = math.sqrt(12**2 + 4 / math.pi * fibre * helix / 1000 / PACKING)
        if abs(settled - outer) < 1e-10:
            break
        outer = settled
    metres = 12 * helix / 1000 * CRIMP / (1 + STRETCH)
    rod = STEEL * math.pi / 4 * 12**2
    assert found.cord_use_m[CORD.name] == pytest.approx(metres, rel=1e-6)
    assert found.mass_g == pytest.approx(6.6 * metres + rod, rel=1e-6)
    assert found.balance_mm == pytest.approx(500.0, rel=1e-9)


def test_only_the_layers_up_to_one_are_weighed_after_it() -> None:
    made = whip(layer("core", (0, 6), (400, 3)), layer("overlay", (0, 12)))
    inner = mass_distribution(made, {CORD.name: CORD}, after_layer=1)
    assert inner.mass_g == pytest.approx(6.6 * (6 * 0.4 + 3 * 0.6))
    assert inner.mass_g < mass_distribution(made, {CORD.name: CORD}).mass_g


def test_what_cannot_be_weighed_is_said() -> None:
    made = whip(layer("overlay", (0, 12)), foundation=Foundation(diameter_mm=12, to_mm=300))
    assert [x.code for x in mass_distribution(made, {CORD.name: CORD}).findings] == ["foundation-mass"]


def test_a_thong_of_unknown_length_is_refused_with_what_to_note() -> None:
    with pytest.raises(ValueError, match="note thong_length"):
        mass_distribution(whip(layer("core", (0, 6)), length_mm=None), {CORD.name: CORD})  # type: ignore[arg-type]


def test_steel_shot_in_a_sheath_weighs_a_share_of_its_tube() -> None:
    """A tube of 12 mm over 300 mm, six tenths of it steel: spheres pack to 0.60 poured (Scott 1960)."""
    shot = Layer(role="core", diameter_mm=12, from_mm=0, to_mm=300, what="Steel shot in a sheath")
    found = mass_distribution(whip(shot, layer("overlay", (0, 12))), {CORD.name: CORD})
    assert found.given_g == pytest.approx(0.6 * STEEL * math.pi / 4 * 12**2 * 0.3)
    assert found.mass_g == pytest.approx(found.given_g + sum(found.cord_mass_g.values()))
    assert found.findings == ()
    wrap = replace(shot, thickness_mm=0.3, diameter_mm=None, what=None)
    found = mass_distribution(whip(layer("core", (0, 6)), wrap), {CORD.name: CORD})
    assert [x.code for x in found.findings] == ["layer-mass"]


def test_over_a_steel_rod_the_plaits_run_on_to_the_butt() -> None:
    """The rod lies in the handle alone; core strands end where the handle does."""
    made = whip(
        layer("core", (0, 4)),
        layer("overlay", (0, 12)),
        foundation=Foundation(diameter_mm=10, to_mm=0, material="steel"),
        handle_length_mm=200,
    )
    whole = whole_mass(made, {CORD.name: CORD})
    (handle,) = whole.before
    assert (handle.from_mm, handle.to_mm) == (-200, 0)
    rod = STEEL * math.pi / 4 * 10**2 * 0.2
    assert handle.mass_g - sum(handle.cord_g.values()) == pytest.approx(rod)
    assert whole.shares["rod"] * whole.along.mass_g == pytest.approx(rod)
    assert whole.shares["handle"] == 0
    inner = whole_mass(replace(made, layers=made.layers[:1]), {CORD.name: CORD}, after_layer=1)
    assert inner.along.mass_g == pytest.approx(rod + 4 * 6.6)
    # Over 10 mm twelve strands lie steeper than over the bare core of four, so each of the 200 mm takes more.
    assert 12 * 0.2 < handle.cord_m[CORD.name] < 12 * 0.2 * 2


def test_a_handle_of_its_own_and_what_hangs_on_the_whip_shift_the_balance_by_their_moments() -> None:
    """4 strands of 6.6 g/m over 1 m; handle of 300 x 20 mm at 0.7 g/cm3; 10 g at the butt; 12 g at 1.3 m."""
    made = whip(layer("core", (0, 4)), handle_length_mm=300, foundation="none")
    bare = whole_mass(made, {CORD.name: CORD})
    hung = replace(bare, with_parts=("fall", "cracker"))
    strands, handle = 26.4, 0.7 * math.pi / 4 * 20**2 * 0.3
    mass = strands + handle + 10
    moment = strands * 500 - handle * 150 - 10 * 300
    assert bare.along.mass_g == pytest.approx(mass)
    assert bare.along.balance_mm == pytest.approx(moment / mass)
    assert hung.along.balance_mm == pytest.approx((moment + 12 * 1300) / (mass + 12))
    assert bare.unknown_sd > replace(bare, handle_g=0.0).unknown_sd


def test_half_of_what_may_hang_on_a_whip_counts_and_widens() -> None:
    made = whip(layer("core", (0, 4)), handle_length_mm=0)
    bare = whole_mass(made, {CORD.name: CORD})
    unstated, hung = replace(bare, with_parts=None), replace(bare, with_parts=("fall", "cracker"))
    assert unstated.along.mass_g == pytest.approx((bare.along.mass_g + hung.along.mass_g) / 2)
    assert unstated.unknown_sd > hung.unknown_sd


def test_a_handle_of_unknown_length_is_said() -> None:
    whole = whole_mass(whip(layer("core", (0, 4))), {CORD.name: CORD})
    assert [x.code for x in whole.findings] == ["handle-mass"]
    assert whole.unknown_sd > 0.25
