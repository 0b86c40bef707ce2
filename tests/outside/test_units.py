"""Units and cord figures against published values; the source stands beside each."""

import math

import pytest

from plaitlog.models import units
from plaitlog.models.whip import Reading, girth_to_diameter


def test_the_international_yard_and_pound() -> None:
    """Agreement of 1 July 1959: the yard is 0.9144 m, the pound 0.45359237 kg, exactly."""
    assert units.parse_length("1 yd") == 914.4
    assert units.parse_length("1 ft") == 304.8
    assert units.parse_length("1 in") == 25.4
    assert units.parse_mass("1 lb") == 453.59237
    assert units.parse_mass("16 oz") == 453.59237


@pytest.mark.parametrize(
    ("typed", "g_per_m"),
    [
        ("950 ft/lb", 1.5665),  # type I
        ("1050 ft/lb", 1.4173),  # type IA
        ("265 ft/lb", 5.6157),  # type II
        ("495 ft/lb", 3.0064),  # type IIA, ft/lb from memory
        ("225 ft/lb", 6.6141),  # type III
        ("165 ft/lb", 9.0192),  # type IV, ft/lb from memory
    ],
)
def test_parachute_cord(typed: str, g_per_m: float) -> None:
    """MIL-C-5040H (1994), table II: least feet to the pound, so most grams to the metre.

    The g/m are computed from the feet per pound with the exact foot and pound.
    """
    assert units.parse_linear_density(typed) == pytest.approx(g_per_m, abs=5e-5)


def test_feet_per_pound_to_grams_per_metre() -> None:
    """Computed from the exact constants: 453.59237 / 0.3048."""
    assert units.parse_linear_density("225 ft/lb") * 225 == pytest.approx(1488.163943569554, rel=1e-14)


@pytest.mark.parametrize(
    ("pounds", "g_per_m"), [(1.00, 14.882), (1.50, 22.322), (2.50, 37.204), (3.50, 52.086), (6.50, 96.731)]
)
def test_rope_by_the_hundred_feet(pounds: float, g_per_m: float) -> None:
    """Three-strand nylon in lb per 100 ft, industrialrope.com; the g/m are computed."""
    assert units.parse_linear_density(f"{pounds} lb/100 ft") == pytest.approx(g_per_m, abs=1e-3)


def test_girth_to_diameter() -> None:
    """d = g / pi, less the thickness of a tape read at its middle (computed)."""
    assert girth_to_diameter(40.0) == pytest.approx(12.732395447351628, rel=1e-15)
    assert girth_to_diameter(10 * math.pi) == pytest.approx(10, rel=1e-15)
    assert Reading(at_mm=0, girth_mm=math.pi * 12.3, tape_mm=0.3).size_mm == pytest.approx(12.0)


def test_peirce_prints_inches() -> None:
    """Peirce 1937 prints d = 1/28 in for Ne 1, 25.4/28 mm (seen quoted in textile references)."""
    assert units.parse_diameter("1/28 in") == pytest.approx(0.90714286, abs=5e-9)
