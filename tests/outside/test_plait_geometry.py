"""Plait and rope geometry against published values; the source stands beside each.

Everything goes through the project's public functions: breaking a formula there turns its check red.
"""

import math

import numpy as np
import pytest

from plaitlog.models import units
from plaitlog.models.geometry import (
    CONSTANTS,
    FIBRE_DENSITY,
    GeometryConstants,
    angle_from_turn_deg,
    bare_packing,
    braid_tightness,
    bundle_added_mm2,
    closing_angle_deg,
    cover,
    coverage_factor,
    diameter_of_area_mm,
    geometric_diameter,
    mass_per_length_g_per_m,
    solid_area_mm2,
    solve_wall,
    strand_path,
)
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly

HEXAGONAL = math.pi / (2 * math.sqrt(3))
"""Densest packing of equal circles in the plane, 0.9068997 (Thue); printed as 0.906 in textile papers."""

# Ratio of the enclosing radius to that of n equal circles: Birgin & Gentil 2009, table 1, reference column
# (best known values of the packomania collection; proven for n <= 13 and 19).
ENCLOSING = {
    1: 1.0, 2: 2.0, 3: 2.1547005384, 4: 2.4142135624, 5: 2.7013016167, 6: 3.0, 7: 3.0, 8: 3.3047648710,
    9: 3.6131259298, 10: 3.8130256314, 11: 3.9238044002, 12: 4.0296019301, 13: 4.2360679775, 14: 4.3284285549,
    16: 4.6154255949, 19: 4.8637033052, 37: 6.7587704831,
}  # fmt: skip
# Closed forms of some of them, from the same tables.
CLOSED = {
    3: 1 + 2 / math.sqrt(3),
    4: 1 + math.sqrt(2),
    5: 1 + math.sqrt(2 * (1 + 1 / math.sqrt(5))),
    7: 3.0,
    8: 1 + 1 / math.sin(math.pi / 7),
    9: 1 + math.sqrt(2 * (2 + math.sqrt(2))),
    11: 1 + 1 / math.sin(math.pi / 9),
    13: 2 + math.sqrt(5),
    19: 1 + math.sqrt(2) + math.sqrt(6),
}
ROD_MM = 3.0


def bundle_mm(rods: int, packing: float) -> float:
    """Diameter that the geometry gives a core of solid round rods of 3 mm at a share of solid section."""
    area = math.pi / 4 * ROD_MM**2
    rod = Cord(
        name="rod", material="nylon", construction="solid", diameter_mm=ROD_MM,
        linear_density_g_per_m=area * 1.14, fibre_density_g_per_cm3=1.14,
    )  # fmt: skip
    core = StackLayer(role="core", groups=(StrandGroup(rod, exactly(rods)),))
    return geometric_diameter(Stack((core,)), GeometryConstants(packing_core=packing)).diameter_mm


@pytest.mark.parametrize("rods", ENCLOSING)
def test_a_core_bundle_at_the_published_density_has_the_published_size(rods: int) -> None:
    """A bundle filled to n / R^2 is as wide as the smallest circle around n equal circles."""
    ratio = ENCLOSING[rods]
    assert bundle_mm(rods, rods / ratio**2) == pytest.approx(ROD_MM * ratio, rel=1e-12)


@pytest.mark.parametrize("rods", CLOSED)
def test_the_published_ratios_have_closed_forms(rods: int) -> None:
    assert bundle_mm(rods, rods / ENCLOSING[rods] ** 2) == pytest.approx(ROD_MM * CLOSED[rods], rel=1e-10)


@pytest.mark.parametrize("rods", [rods for rods in ENCLOSING if rods > 1])
def test_no_bundle_of_round_rods_is_smaller_than_the_hexagonal_limit(rods: int) -> None:
    assert bundle_mm(rods, HEXAGONAL) < ROD_MM * ENCLOSING[rods]


@pytest.mark.parametrize(("rods", "density"), [(7, 0.777778), (19, 0.803192), (37, 0.809965)])
def test_published_densities_of_curved_hexagonal_packings(rods: int, density: float) -> None:
    """Lubachevsky & Graham, curved hexagonal packings of equal disks in a circle: n / R^2."""
    assert bundle_mm(rods, density) == pytest.approx(ROD_MM * ENCLOSING[rods], rel=2e-6)


def test_a_bundle_of_cords_is_denser_than_loose_cords_and_no_denser_than_solid_rods() -> None:
    """The constant of a core lies between a bare cord's fill and that of the hexagonal limit."""
    assert CONSTANTS.packing_bare < CONSTANTS.packing_core < HEXAGONAL


# N, w mm, r mm, angle, k, CF, closing angle, smallest closed r: computed from k = N w / (4 pi r cos(angle)),
# CF = 1 - (1 - k)^2, of Ko 1987 and Du & Popper 1994 (J. Text. Inst. 85, 316).
BRAIDS = [
    (16, 4, 10, 45, 0.7202530529256849, 0.9217416456026, 59.383064096991, 7.202530529256848),
    (12, 4, 5, 45, 1.0803795793885274, None, 40.186887397650, 5.401897896942637),
    (16, 3, 8, 30, 0.551328895421792, 0.798694239916571, 61.480043491046, 4.410631163374336),
    (32, 3, 20, 45, 0.5401897896942637, 0.788574570498594, 67.544121986358, 10.80379579388527),
]


@pytest.mark.parametrize(("n", "w", "r", "angle", "k", "cf", "jam", "closed_r"), BRAIDS)
def test_cover_of_a_tubular_braid(
    n: int, w: float, r: float, angle: float, k: float, cf: float | None, jam: float, closed_r: float
) -> None:
    tightness = braid_tightness(n, w, 2 * r, angle)
    assert tightness == pytest.approx(k, rel=1e-12)
    assert coverage_factor(tightness) == pytest.approx(1.0 if cf is None else cf, rel=1e-11)
    assert closing_angle_deg(cover(n, w, 2 * r)) == pytest.approx(jam, rel=1e-11)
    assert braid_tightness(n, w, 2 * closed_r, angle) == pytest.approx(1, rel=1e-12)
    assert cover(n, w, 2 * closed_r) == pytest.approx(math.cos(math.radians(angle)), rel=1e-12)


@pytest.mark.parametrize(("carriers", "ends", "wire_mm", "mean_mm", "angle"), [
    (16, 5, 0.2, 8.0, 30.0), (24, 7, 0.15, 12.0, 45.0), (8, 4, 0.3, 5.0, 60.0),
])  # fmt: skip
def test_cover_of_a_cable_shield(
    carriers: int, ends: int, wire_mm: float, mean_mm: float, angle: float
) -> None:
    """Shield braids have the same law by a route of their own.

    Fill F = n m d / (2 pi D cos(psi)) and K = 1 - (1 - F)^2 (Altair Feko manual, braided cable shields); and
    F = E P d / sin(a), tan(a) = 2 pi D P / C, K = 2F - F^2, P picks per length (cable data sheets).
    """
    tightness = braid_tightness(carriers, ends * wire_mm, mean_mm, angle)
    psi = math.radians(angle)
    fill = carriers * ends * wire_mm / (2 * math.pi * mean_mm * math.cos(psi))
    picks = math.tan(psi) * carriers / (2 * math.pi * mean_mm)
    fill_by_picks = ends * picks * wire_mm / math.sin(psi)
    assert tightness == pytest.approx(fill, rel=1e-12)
    assert tightness == pytest.approx(fill_by_picks, rel=1e-12)
    assert coverage_factor(tightness) == pytest.approx(1 - (1 - fill) ** 2, rel=1e-12)
    assert coverage_factor(tightness) == pytest.approx(2 * fill - fill**2, rel=1e-12)


def test_a_jammed_braid_has_no_closing_angle() -> None:
    """Jammed at every angle when N w >= 4 pi r (Du & Popper 1994)."""
    assert closing_angle_deg(cover(16, 4, 16 * 4 / (2 * math.pi))) == pytest.approx(0, abs=1e-5)
    assert closing_angle_deg(cover(20, 4, 10)) == 0


@pytest.mark.parametrize(("angle", "ratio"), [(0, 1.0), (30, 1.15470054), (45, 1.41421356), (60, 2.0)])
def test_strand_length_at_an_angle(angle: float, ratio: float) -> None:
    """1 / cos(angle) on a cylinder, crimp and stretch left out (computed)."""
    path = strand_path(math.cos(math.radians(angle)), crimp=1, stretch=0)
    assert path == pytest.approx(ratio, rel=1e-8)
    assert mass_per_length_g_per_m(16, 7.2, path) == pytest.approx(16 * 7.2 * ratio, rel=1e-8)


def test_turn_length_against_angle() -> None:
    """tan(angle) = omega r / v: r 40 mm, 1 rad/s, 40 mm/s make 45 degrees (reference case of van Ravenhorst &
    Akkerman 2016 as restated in braiding theory documents); one turn then takes 2 pi v / omega."""
    turn = 2 * math.pi * 40
    assert angle_from_turn_deg(turn, 80) == pytest.approx(45, rel=1e-12)
    assert angle_from_turn_deg(np.array([math.inf, 80 * math.pi / math.sqrt(3)]), 80) == pytest.approx(
        [0, 60]
    )


def test_a_measured_turn_sets_the_angle_of_a_wall() -> None:
    """tan(angle) = pi d_m / turn holds in the solved wall, whatever the strand width."""
    wall = solve_wall(10.0, 60.0, 16 * 4.4, turn_mm=50.0)
    assert math.degrees(math.acos(float(wall.cos_angle))) == pytest.approx(
        float(angle_from_turn_deg(50.0, wall.mean_mm)), rel=1e-10
    )
    assert wall.outer_mm**2 == pytest.approx(10.0**2 + 60.0 / float(wall.cos_angle), rel=1e-10)


@pytest.mark.parametrize(
    ("kg_per_m3", "density", "fill"),
    [(585, 1.14, 0.653372924), (679, 1.38, 0.626470762), (496, 0.975, 0.647719809)],
)
@pytest.mark.parametrize("diameter_mm", [10.0, 50.0])
def test_fill_of_solid_rope(kg_per_m3: float, density: float, fill: float, diameter_mm: float) -> None:
    """Mass per length over diameter squared of nylon, polyester and HMPE rope: MoorPy 1.3.0, default mooring
    line properties (NREL); the fill is computed."""
    g_per_m = kg_per_m3 * diameter_mm**2 / 1000
    assert bare_packing(solid_area_mm2(g_per_m, density), diameter_mm) == pytest.approx(fill, rel=1e-8)


@pytest.mark.parametrize(
    ("size", "pounds", "fill"),
    [("3/16 in", 1.00, 0.733), ("1/4 in", 1.50, 0.618), ("5/16 in", 2.50, 0.660), ("3/8 in", 3.50, 0.641),
     ("1/2 in", 6.50, 0.670)],
)  # fmt: skip
def test_fill_of_three_strand_nylon(size: str, pounds: float, fill: float) -> None:
    """lb per 100 ft of three-strand nylon, industrialrope.com; the fill is computed."""
    area = solid_area_mm2(units.parse_linear_density(f"{pounds} lb/100 ft"), FIBRE_DENSITY["nylon"])
    assert bare_packing(area, units.parse_diameter(size)) == pytest.approx(fill, abs=5e-4)


def test_parachute_cord_of_type_three() -> None:
    """MIL-C-5040H type III, 225 ft/lb; nylon 1.14 g/cm3 (Morton & Hearle); 4 mm or 5/32 in as measured in the
    field (secondary pages). Area, solid diameter and fill are computed."""
    area = solid_area_mm2(units.parse_linear_density("225 ft/lb"), FIBRE_DENSITY["nylon"])
    assert area == pytest.approx(5.8018087, abs=5e-8)
    assert diameter_of_area_mm(area, 1) == pytest.approx(2.7179206, abs=5e-8)
    assert bare_packing(area, 4.0) == pytest.approx(0.4617, abs=5e-5)
    assert bare_packing(area, units.parse_diameter("5/32 in")) == pytest.approx(0.4690, abs=5e-5)
    assert CONSTANTS.packing_bare == pytest.approx(float(bare_packing(area, 4.0)), abs=0.005)


def test_the_sheath_of_parachute_cord() -> None:
    """Types II and IIA share their sheath and IIA has no core: 3.0064 of 5.6157 g/m (IIA from memory)."""
    share = units.parse_linear_density("495 ft/lb") / units.parse_linear_density("265 ft/lb")
    assert CONSTANTS.sheath_share == pytest.approx(share, abs=0.001)


def test_peirce_yarn_diameter() -> None:
    """Peirce 1937 (J. Text. Inst. 28, T45): cotton yarn of 1.1 cm3/g, d = sqrt(4 * 1.1 T / (pi 10^5)) cm and,
    as printed, 1/(28 sqrt(Ne)) in. The figures of 20 tex and of Ne 1 (840 yd/lb) are computed."""

    def yarn_mm(typed: str) -> float:
        return float(diameter_of_area_mm(solid_area_mm2(units.parse_linear_density(typed), 1 / 1.1), 1))

    assert yarn_mm("20 g/1000 m") == pytest.approx(0.1673656774, abs=5e-11)
    assert yarn_mm("100 g/1000 m") / 10 == pytest.approx(0.0374241032, abs=5e-11)
    assert yarn_mm("840 yd/lb") == pytest.approx(0.909445, abs=5e-7)
    assert yarn_mm("840 yd/lb") == pytest.approx(units.parse_diameter("1/28 in"), rel=0.003)


def test_even_drops_make_the_section_fall_in_a_straight_line() -> None:
    """Strands cut out of a core one by one take the same off D squared each (common practice, no source)."""
    squares = np.square([bundle_mm(rods, 0.7) for rods in range(13, 0, -1)])
    assert np.diff(squares) == pytest.approx(-float(bundle_added_mm2(1, math.pi / 4 * ROD_MM**2, 0.7)))


def test_an_overlay_strand_is_about_one_and_a_half_times_the_thong() -> None:
    """Common practice, no source: for a 6 ft thong, with a foot to hold by, at the usual angle."""
    usual = math.cos(math.radians(CONSTANTS.angle_deg))
    assert float(strand_path(usual)) + 1 / 6 == pytest.approx(1.5, abs=0.1)
