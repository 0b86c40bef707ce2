"""Interval widths corrected by held-out groups."""

import numpy as np
import pytest

from plaitlog.models.calibration.conformal import interval_scale, scales_without_own_group


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
