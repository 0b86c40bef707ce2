"""Whips that are off together are found as often as stated, and no oftener where they are not."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom, ttest_1samp

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.common_shift import common_shift
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.gain import covariance_of_readings
from plaitlog.models.calibration.observations import Observation
from tests.calibration.laid_whips import whips

EFFECTS = {"Ridge": 0.10, "Fell": -0.08, "Scar": 0.12}
NAMES = tuple(EFFECTS)
SEEN = 0.05


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return DiameterModel().fit(whips(40, EFFECTS, seed=3, names=NAMES)).calibration_


def later(seed: int, shift: float = 0.0, count: int = 10) -> list[Observation]:
    found = whips(count, EFFECTS, seed=1000 + seed, names=NAMES, label="later")
    return [replace(x, diameter_mm=x.diameter_mm * float(np.exp(shift))) for x in found]


def test_chance_alone_is_called_a_drift_as_often_as_stated(calibration: Calibration) -> None:
    """Diameters drawn from what the fit itself expects of ten whips: 1 of 20 such checks may be off."""
    ten = [x for x in later(0) if x.at_mm in (0.0, 300.0, 600.0, 1200.0)]
    mean, covariance, _ = covariance_of_readings(calibration, ten)
    lower = np.linalg.cholesky(covariance)
    rng = np.random.default_rng(11)
    draws, called = 120, 0
    for _ in range(draws):
        sizes = np.exp(mean + lower @ rng.normal(size=len(ten)))
        told = common_shift(
            calibration, [replace(x, diameter_mm=float(size)) for x, size in zip(ten, sizes, strict=True)]
        )
        assert told is not None
        called += told.p_value < SEEN
    low, high = binom.ppf([0.005, 0.995], draws, SEEN)
    assert low <= called <= high


def test_a_drift_is_found_with_its_size(calibration: Calibration) -> None:
    """Whips differ by 3 per cent each: ten of them that are 4 per cent thinner together show it."""
    found = [common_shift(calibration, later(seed, shift=-0.04)) for seed in range(12)]
    shifts = [told.shift_log for told in found if told is not None]
    assert np.mean(shifts) == pytest.approx(-0.04, abs=0.008)
    assert sum(told is not None and told.p_value < SEEN for told in found) >= 8
    inside = sum(told is not None and told.low_95_log < -0.04 < told.high_95_log for told in found)
    assert inside >= 10
    one = found[0]
    assert one is not None
    assert one.shift_mm == pytest.approx(one.middle_mm * (1 - np.exp(-one.shift_log)))


def test_whips_count_not_readings(calibration: Calibration) -> None:
    """The same readings five times over tell no more about what whips have in common."""
    ten = later(3, shift=0.02)
    once, often = (common_shift(calibration, ten * times) for times in (1, 5))
    assert once is not None
    assert often is not None
    assert [x.off_log for x in often.whips] == pytest.approx([x.off_log for x in once.whips], abs=1e-6)
    width = (once.high_95_log - once.low_95_log) / 2
    assert (often.high_95_log - often.low_95_log) / 2 == pytest.approx(width, rel=0.1)


def test_where_whips_share_nothing_it_is_the_ordinary_test_of_their_means(calibration: Calibration) -> None:
    sure = replace(calibration, covariance=calibration.covariance * 1e-12)
    ten = [x for x in later(5, shift=0.03) if x.at_mm == 0.0 and x.whip]
    told = common_shift(sure, ten)
    assert told is not None
    # One reading on each of much the same stacks: nearly equal variances.
    plain = ttest_1samp([x.off_log for x in told.whips], 0.0)
    assert told.p_value == pytest.approx(float(plain.pvalue), rel=0.25)


def test_one_mistyped_reading_does_not_make_a_drift(calibration: Calibration) -> None:
    ten = later(7)
    clean = common_shift(calibration, ten)
    wrong = common_shift(
        calibration, [replace(ten[5], diameter_mm=ten[5].diameter_mm * 10), *ten[:5], *ten[6:]]
    )
    assert clean is not None
    assert wrong is not None
    assert abs(wrong.shift_log - clean.shift_log) < 0.004


def test_two_whips_are_too_few(calibration: Calibration) -> None:
    assert common_shift(calibration, later(1, count=2)) is None
    assert common_shift(calibration, []) is None
