"""Interval widths corrected by held-out groups."""

from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.conformal import interval_scale, scales_without_own_group
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.prediction import predict
from tests.calibration.laid_whips import CORDS, asked, stack_of, whips


def groups_of(count: int, each: int) -> list[str]:
    return [f"w{k}" for k in range(count) for _ in range(each)]


@pytest.mark.parametrize("true", [0.6, 1.0, 1.7])
def test_many_groups_reveal_the_true_factor(true: float) -> None:
    z = true * np.random.default_rng(1).normal(size=4000)
    assert interval_scale(z, groups_of(2000, 2)) == pytest.approx(true, rel=0.05)


def test_fewer_than_nine_groups_change_nothing() -> None:
    z = np.full(80, 5.0)
    assert interval_scale(z, groups_of(8, 10)) == 1.0
    assert interval_scale(np.full(90, 5.0), groups_of(9, 10)) > 1.0


def test_few_groups_are_believed_less() -> None:
    few, many = (interval_scale(np.full(n, 2 * 1.6448536), groups_of(n, 1)) for n in (20, 200))
    assert few == pytest.approx(2**0.5)
    assert few < many < 2.0


def test_a_whip_with_many_readings_counts_like_one_with_few() -> None:
    z = np.concatenate([np.full(500, 9.0), np.linspace(0.1, 1.6, 30)])
    names = ["long"] * 500 + groups_of(30, 1)
    without = interval_scale(z[500:], names[500:])
    assert interval_scale(z, names) == pytest.approx(without, rel=0.1)


def test_no_group_corrects_itself() -> None:
    z = np.random.default_rng(2).normal(size=40)
    names = groups_of(20, 2)
    before = scales_without_own_group(z, names)
    z[:2] = 50.0
    after = scales_without_own_group(z, names)
    assert np.array_equal(before[:2], after[:2])
    assert (after[2:] >= before[2:]).all()


def test_each_question_takes_the_correction_of_the_trial_that_asked_the_same() -> None:
    notebook = whips(6, {}, seed=1, makers={"Orrin": 0.0, "Tamsin": 0.02}, names=("Ridge", "Fell", "Tarn"))
    plain = DiameterModel().fit(notebook).calibration_
    corrected = plain.with_interval_scales(known=1.1, new=1.3, maker=1.7, rest=0.8)
    last = notebook[-1]
    taken = tuple(notebook[-13:-8])
    scar = stack_of(CORDS["Scar"], CORDS["Fell"], CORDS["Fell"], 2)
    questions = {
        "known": (asked(last), 1.1),
        "a new cord": (replace(asked(last), stack=scar), 1.3),
        "an unknown maker": (replace(asked(last), maker="Ansgar"), 1.7),
        "both": (replace(asked(last), stack=scar, maker="Ansgar"), 1.7),
        "the rest": (asked(last, taken), 0.8),
        "the rest, by an unknown maker": (replace(asked(last, taken), maker="Ansgar"), 0.8),
        "the rest, on a new cord": (replace(asked(last, taken), stack=scar), 1.3),
    }
    before = predict(plain, [question for question, _ in questions.values()])
    after = predict(corrected, [question for question, _ in questions.values()])
    for one, other, (name, (_, scale)) in zip(before, after, questions.items(), strict=True):
        widened = np.log(other.high_90_mm / other.low_90_mm) / np.log(one.high_90_mm / one.low_90_mm)
        assert widened == pytest.approx(scale), name
        assert other.sd_log == one.sd_log
