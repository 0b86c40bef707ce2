"""Wrong readings neither move a fit nor keep their weight; they stay in the record and are named."""

import numpy as np
import pytest

from plaitlog.models.calibration.diameter import DiameterModel
from tests.benchmarks.robust import GOAL_MOVED, GOAL_WEIGHT, robustness
from tests.benchmarks.workshops import TUNING
from tests.calibration.laid_whips import whips


@pytest.mark.parametrize("kind", [0, 1])
def test_two_wrong_readings_in_a_hundred(kind: int) -> None:
    found = robustness(TUNING[kind], seed=1, whips=20)
    assert found.wrong > 0
    assert found.moved <= GOAL_MOVED
    assert found.weight <= GOAL_WEIGHT
    assert found.sound_suspects < 0.02


def test_a_wrong_reading_is_named_with_what_would_fit() -> None:
    observations = whips(30, {"Ridge": 0.1, "Fell": -0.05}, seed=4)
    right = observations[100].diameter_mm
    object.__setattr__(observations[100], "diameter_mm", 2.54 * right)
    model = DiameterModel().fit(observations)
    assert model.calibration_.readings == len(observations)
    worst = min(model.calibration_.suspects, key=lambda suspect: suspect.weight)
    assert (worst.index, worst.whip, worst.diameter_mm) == (100, observations[100].whip, 2.54 * right)
    assert np.log(worst.fitting_mm / right) == pytest.approx(0, abs=0.06)
