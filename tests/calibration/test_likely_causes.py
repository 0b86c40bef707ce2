"""A slip made on purpose in a sound reading is found again, with the value it was made from."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.likely_causes import explained
from plaitlog.models.calibration.observations import Observation
from tests.calibration.laid_whips import true_mm, whips

EFFECTS = {"Ridge": 0.05, "Fell": -0.04, "Tarn": 0.1}
SLIPS = {
    "decimal-point": lambda mm: mm / 10,
    "unit": lambda mm: mm / 25.4,
    "girth": lambda mm: mm * math.pi,
}


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return DiameterModel().fit(whips(12, EFFECTS, seed=5)).calibration_


@pytest.fixture(scope="module")
def whip() -> list[Observation]:
    return [replace(x, diameter_mm=round(x.diameter_mm, 1)) for x in whips(1, EFFECTS, seed=8, label="new")]


@pytest.mark.parametrize("slip", SLIPS)
@pytest.mark.parametrize("station", [0, 4, 10])
def test_a_wrong_factor_is_found(
    calibration: Calibration, whip: list[Observation], slip: str, station: int
) -> None:
    true = whip[station].diameter_mm
    wrong = replace(whip[station], diameter_mm=SLIPS[slip](true))
    found = explained(calibration, wrong, [*whip[:station], wrong, *whip[station + 1 :]])
    assert found.cause is not None
    assert found.cause.code == slip
    assert found.cause.fitting_mm == pytest.approx(true)
    assert found.low_90_mm < true < found.high_90_mm


def test_a_diameter_noted_as_a_girth_is_found(calibration: Calibration, whip: list[Observation]) -> None:
    wrong = replace(whip[3], diameter_mm=whip[3].diameter_mm / math.pi, method="girth")
    cause = explained(calibration, wrong, [*whip[:3], wrong, *whip[4:]]).cause
    assert cause is not None
    assert (cause.code, cause.words) == ("girth", "a diameter noted as a girth")
    assert cause.fitting_mm == pytest.approx(whip[3].diameter_mm)


def test_two_digits_in_the_wrong_order_are_found(calibration: Calibration, whip: list[Observation]) -> None:
    k = next(k for k, x in enumerate(whip) if 13 <= x.diameter_mm < 20)
    digits = f"{whip[k].diameter_mm:.1f}"
    wrong = replace(whip[k], diameter_mm=float(digits[1] + digits[0] + digits[2:]))
    cause = explained(calibration, wrong, [*whip[:k], wrong, *whip[k + 1 :]]).cause
    assert cause is not None
    assert cause.code == "digits"
    assert cause.fitting_mm == pytest.approx(whip[k].diameter_mm)


def test_neighbouring_stations_noted_for_each_other_are_found(
    calibration: Calibration, whip: list[Observation]
) -> None:
    # The belly ends before the ninth station: a step that two readings show.
    steps = [abs(math.log(a.diameter_mm / b.diameter_mm)) for a, b in pairwise(whip)]
    k = max(range(len(steps)), key=steps.__getitem__)
    first = replace(whip[k], diameter_mm=whip[k + 1].diameter_mm)
    second = replace(whip[k + 1], diameter_mm=whip[k].diameter_mm)
    noted = [*whip[:k], first, second, *whip[k + 2 :]]
    for wrong, true in ((first, whip[k]), (second, whip[k + 1])):
        cause = explained(calibration, wrong, noted, odd=(first, second)).cause
        assert cause is not None
        assert cause.code == "neighbour"
        assert cause.fitting_mm == true.diameter_mm


def test_a_reading_taken_before_the_overlay_was_on_is_found(
    calibration: Calibration, whip: list[Observation]
) -> None:
    # At the second station there are core, belly and overlay.
    inner = replace(whip[1].stack, layers=whip[1].stack.layers[:2])
    pull = whip[1].diameter_mm / float(true_mm([whip[1].stack], EFFECTS)[0])
    wrong = replace(whip[1], diameter_mm=float(true_mm([inner], EFFECTS)[0]) * pull)
    cause = explained(calibration, wrong, [whip[0], wrong, *whip[2:]]).cause
    assert cause is not None
    assert cause.code == "layer-not-on"
    assert cause.fitting_mm == pytest.approx(whip[1].diameter_mm, rel=0.05)


def test_what_no_slip_explains_is_given_no_cause(calibration: Calibration, whip: list[Observation]) -> None:
    true = whip[5].diameter_mm
    wrong = replace(whip[5], diameter_mm=true * 1.23 + 0.0137)
    assert explained(calibration, wrong, [*whip[:5], wrong, *whip[6:]]).cause is None


def test_a_sound_reading_is_given_no_cause(calibration: Calibration, whip: list[Observation]) -> None:
    assert all(explained(calibration, x, whip).cause is None for x in whip)


def test_a_reading_alone_on_its_whip_is_explained_too(
    calibration: Calibration, whip: list[Observation]
) -> None:
    wrong = replace(whip[2], diameter_mm=whip[2].diameter_mm / 10, at_mm=None)
    cause = explained(calibration, wrong, [wrong]).cause
    assert cause is not None
    assert cause.code == "decimal-point"


def test_a_layer_that_is_not_noted_is_found(calibration: Calibration, whip: list[Observation]) -> None:
    # Station 10 has an overlay alone; measured is a second one over it.
    noted = whip[10].stack
    twice = replace(noted, layers=(noted.layers[0], replace(noted.layers[0], slot=4)))
    pull = whip[10].diameter_mm / float(true_mm([noted], EFFECTS)[0])
    wrong = replace(whip[10], diameter_mm=float(true_mm([twice], EFFECTS)[0]) * pull)
    cause = explained(calibration, wrong, [*whip[:10], wrong, *whip[11:]]).cause
    assert cause is not None
    assert cause.code == "layer-not-noted"
    assert cause.fitting_mm == pytest.approx(whip[10].diameter_mm, rel=0.05)
