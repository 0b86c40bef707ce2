"""Lengths, masses and densities as typed. Oracles: pint, decimal arithmetic, and values worked by hand."""

import math
from collections.abc import Callable
from decimal import Decimal

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from plaitlog.models import units
from plaitlog.models.errors import UnitError

PINT = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("5' 6 1/2\"", 66.5 * 25.4),
        ("5'6", 66 * 25.4),
        ("5'", 60 * 25.4),
        ("5 ' 6 \"", 66 * 25.4),
        ("6 ft 2 in", 74 * 25.4),
        ("6ft2in", 74 * 25.4),
        ("6 ft. 2 in.", 74 * 25.4),
        ("6 Feet 2 Inches", 74 * 25.4),
        ("5.5 ft", 66 * 25.4),
        ("5 1/2 ft", 66 * 25.4),
        ("2 yd", 1828.8),
        ("3/4 in", 19.05),
        ("30-1/2 in", 774.7),
        ("12''", 304.8),
        ("12,7 mm", 12.7),
        ("12.7mm", 12.7),
        (",5 in", 12.7),
        ("1.2 m", 1200),
        ("1,2 m", 1200),
        ("1,830 mm", 1.83),  # the comma is always the decimal mark
        ("60 cm", 600),
        ("5′ 6½″", 66.5 * 25.4),
        ("5’6”", 66 * 25.4),
        ("½ in", 12.7),
        ("2⅝ in", 66.675),
        ("2 ⅝ in", 66.675),
        ("30\u00a01/2\u202fin", 774.7),
        (" 30 mm ", 30),
        ("0 in", 0),
    ],
)
def test_a_length_as_typed(typed: str, mm: float) -> None:
    assert units.parse_length(typed) == pytest.approx(mm, rel=1e-15)


def test_thousandths_of_an_inch() -> None:
    assert units.parse_diameter("551 thou") == pytest.approx(13.9954, rel=1e-15)


def test_a_declared_unit_serves_text_without_one() -> None:
    assert units.parse_length("30 1/2", unit="in") == pytest.approx(774.7)
    assert units.parse_length("30 1/2 mm", unit="in") == 30.5
    assert units.parse_length("5'6", unit="mm") == pytest.approx(66 * 25.4)
    assert units.parse_mass("412", unit="g") == 412


@given(
    st.decimals(min_value="0.001", max_value="60", places=4),
    st.sampled_from(["mm", "cm", "m", "in", "ft", "yd"]),
    st.sampled_from([" ", ""]),
    st.booleans(),
)
def test_lengths_agree_with_pint(number: Decimal, unit: str, gap: str, comma: bool) -> None:
    expected = PINT.Quantity(float(number), unit.replace("in", "inch")).to("mm").magnitude
    if expected > units.LENGTH_LIMIT_MM:
        return
    text = str(number).replace(".", ",") if comma else str(number)
    assert units.parse_length(f"{text}{gap}{unit}") == pytest.approx(expected, rel=1e-12)


@given(st.decimals(min_value="0.01", max_value="40", places=3), st.sampled_from(["g", "oz", "lb", "kg"]))
def test_masses_agree_with_pint(number: Decimal, unit: str) -> None:
    expected = PINT.Quantity(float(number), unit).to("g").magnitude
    if expected > units.MASS_LIMIT_G:
        return
    assert units.parse_mass(f"{number} {unit}") == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "quantity"),
    [
        ("225 ft/lb", (1 / 225, "lb/ft")),
        ("225 ft per lb", (1 / 225, "lb/ft")),
        ("75 yd/lb", (1 / 75, "lb/yard")),
        ("0.25 oz/yd", (0.25, "oz/yard")),
        ("1/4 oz/yd", (0.25, "oz/yard")),
        ("72 g / 10 m", (7.2, "g/m")),
        ("2.5 oz per 100 ft", (0.025, "oz/ft")),
        ("1 lb/225 ft", (1 / 225, "lb/ft")),
        ("7,2 g/m", (7.2, "g/m")),
    ],
)
def test_linear_densities_agree_with_pint(typed: str, quantity: tuple[float, str]) -> None:
    expected = PINT.Quantity(quantity[0], PINT.parse_units(quantity[1])).to("g/m").magnitude
    assert units.parse_linear_density(typed) == pytest.approx(expected, rel=1e-12)


def test_compound_masses_and_fibre_densities() -> None:
    assert units.parse_mass("1 lb 2 oz") == pytest.approx(18 * 453.59237 / 16)
    assert units.parse_fibre_density("1.14 g/cm³") == 1.14
    assert units.parse_fibre_density("1140 kg/m3") == pytest.approx(1.14)


def test_every_hundredth_of_a_millimetre_survives() -> None:
    for step in range(50, 6001):
        typed = f"{Decimal(step) / 100:.2f}"
        shown = units.show_length(units.parse_diameter(f"{typed} mm"), "mm").removesuffix(" mm")
        assert Decimal(shown) == Decimal(typed)


def test_every_half_thousandth_of_an_inch_survives() -> None:
    for step in range(40, 4725):  # 0.02 to 2.36 in: 0.5 to 60 mm
        typed = f"{Decimal(step) * 5 / 10000:.4f}"
        mm = units.parse_diameter(f"{typed} in")
        assert mm == float(Decimal(typed) * Decimal("25.4"))
        assert Decimal(units.show_length(mm, "in").removesuffix(" in")) == Decimal(typed)
        assert Decimal(units.exact_text(mm, "in")) == Decimal(typed)


def test_every_sixteenth_of_an_inch_survives() -> None:
    for step in range(1, 16 * 120):
        mm = step * 25.4 / 16
        for style in ("in fraction", "ft-in"):
            shown = units.show_length(mm, style)
            assert units.parse_length(shown) == pytest.approx(mm, rel=1e-14), shown


@given(st.floats(0.001, 20_000), st.sampled_from(["mm", "cm", "m", "in", "ft"]), st.booleans())
@example(0.1 + 0.2, "in", True)
@example(774.7, "in", True)
@example(20_000.0, "ft", False)
def test_exact_text_reads_back_to_the_very_float(mm: float, unit: units.LengthUnit, fractions: bool) -> None:
    text = units.exact_text(mm, unit, fractions=fractions)
    assert units.parse_length(text, unit=unit) == mm


@pytest.mark.parametrize(
    ("mm", "style", "shown"),
    [
        (1993.9, "ft-in", "6 ft 6 1/2 in"),
        (1828.8, "ft-in", "6 ft"),
        (12.7, "ft-in", "1/2 in"),
        (0, "ft-in", "0 in"),
        (304.79, "ft-in", "1 ft"),
        (1993.9, "in fraction", "78 1/2 in"),
        (12.7, "in", "0.5 in"),
        (14.0, "mm", "14 mm"),
        (14.126, "mm", "14.13 mm"),
        (602.5, "cm", "60.25 cm"),
        (1830, "m", "1.83 m"),
    ],
)
def test_a_length_shown(mm: float, style: units.LengthStyle, shown: str) -> None:
    assert units.show_length(mm, style) == shown


def test_masses_and_densities_shown() -> None:
    assert units.show_mass(412.4) == "412 g"
    assert units.show_mass(1204, "kg") == "1.204 kg"
    assert units.show_mass(28.349523125, "oz") == "1 oz"
    assert units.show_mass(510.29, "lb-oz") == "1 lb 2 oz"
    assert units.show_mass(453.5, "lb-oz") == "1 lb 0 oz"
    assert units.show_linear_density(7.2) == "7.2 g/m"
    assert units.show_linear_density(6.614062, "ft/lb") == "225 ft/lb"
    assert units.show_linear_density(7.750854, "oz/yd") == "0.25 oz/yd"


def refusal(call: Callable[..., float], *args: object) -> UnitError:
    with pytest.raises(UnitError) as caught:
        call(*args)
    return caught.value


@pytest.mark.parametrize(
    ("read", "typed", "code", "remedy"),
    [
        (units.parse_diameter, "14", "unit-missing", "write '14 mm'"),
        (units.parse_diameter, "0.55", "unit-missing", "write '0.55 in' or '0.55 cm'"),
        (units.parse_diameter, "14 ft", "unit-wrong", "write '14 mm'"),
        (units.parse_diameter, "14 m", "unit-wrong", "write '14 mm'"),
        (units.parse_length, "1830", "unit-missing", "write '1830 mm'"),
        (units.parse_length, "72", "unit-missing", "write '72 in' or '72 cm'"),
        (units.parse_length, "400 g", "unit-wrong", "write '400 mm' or '400 cm'"),
        (units.parse_length, "3 furlongs", "unit-wrong", "write '3 ft' or '3 m'"),
        (units.parse_mass, "412", "unit-missing", "write '412 g'"),
        (units.parse_mass, "3 mm", "unit-wrong", "write '3 oz' or '3 kg'"),
        (units.parse_linear_density, "7.2", "unit-missing", "write '7.2 g/m'"),
        (units.parse_linear_density, "7.2 g", "unit-wrong", "write '7.2 g/m'"),
        (units.parse_linear_density, "7.2 m/ft", "unit-wrong", "write '7.2 g/m'"),
        (units.parse_fibre_density, "1140", "unit-missing", "write '1140 kg/m3'"),
    ],
)
def test_a_missing_or_wrong_unit_names_the_likely_one(
    read: Callable[[str], float], typed: str, code: str, remedy: str
) -> None:
    error = refusal(read, typed)
    assert (error.finding.code, error.finding.remedy) == (code, remedy)
    assert typed in error.finding.text


@pytest.mark.parametrize(
    "typed",
    ["", "mm", "nan", "NaN mm", "inf", "1e3 mm", "1.2.3 mm", "19.2,18.8 mm", "6 ft 20", "2 ft 3 ft",
     "30 5/4 in", "3/0 in", "--3 mm", "12 mm 3", "9" * 40 + " mm", "x" * 5000],
)  # fmt: skip
def test_unreadable_lengths_are_refused(typed: str) -> None:
    for read in (units.parse_length, units.parse_diameter):
        error = refusal(read, typed)
        assert error.finding.remedy
        assert len(error.finding.text) < 100


@pytest.mark.parametrize(
    ("read", "typed", "code"),
    [
        (units.parse_diameter, "200.01 mm", "absurd"),
        (units.parse_diameter, "8 in", "absurd"),
        (units.parse_diameter, "0 mm", "not-a-size"),
        (units.parse_diameter, "-4.0 mm", "not-a-size"),
        (units.parse_length, "-4 mm", "not-a-size"),
        (units.parse_length, "70 ft", "absurd"),
        (units.parse_girth, "63 cm", "absurd"),
        (units.parse_mass, "0 g", "not-a-size"),
        (units.parse_mass, "50 lb", "absurd"),
        (units.parse_linear_density, "0 ft/lb", "not-a-size"),
        (units.parse_linear_density, "2 ft/lb", "absurd"),
        (units.parse_fibre_density, "1140 g/cm3", "absurd"),
    ],
)
def test_absurd_values_are_refused(read: Callable[[str], float], typed: str, code: str) -> None:
    assert refusal(read, typed).finding.code == code


def test_the_limits_themselves_are_taken() -> None:
    assert units.parse_diameter("200 mm") == units.DIAMETER_LIMIT_MM
    assert units.parse_length("20 m") == units.LENGTH_LIMIT_MM


@pytest.mark.parametrize(
    ("value", "code"), [(math.nan, "not-finite"), (math.inf, "not-finite"), (-math.inf, "not-finite"),
                        (-4.0, "not-a-size"), (0.0, "not-a-size"), (200.5, "absurd")],
)  # fmt: skip
def test_numbers_are_held_to_the_same_limits(value: float, code: str) -> None:
    assert refusal(units.check_value, value, units.DIAMETER).finding.code == code
    assert units.check_value(14.0, units.DIAMETER) == 14.0
    assert units.check_value(0.0, units.LENGTH) == 0.0


READERS = (
    units.parse_length,
    units.parse_diameter,
    units.parse_mass,
    units.parse_linear_density,
    units.parse_fibre_density,
)


@given(st.text(max_size=40) | st.text("0123456789.,/'\" -½mcinftgk", max_size=12), st.sampled_from(READERS))
def test_any_text_is_read_or_refused_in_words(text: str, read: Callable[[str], float]) -> None:
    finding = None
    value = 0.0
    try:
        value = read(text)
    except UnitError as error:
        finding = error.finding
    assert math.isfinite(value)
    assert value >= 0
    assert finding is None or (finding.text and finding.remedy)
