"""Kernel features reproduce their kernel where the centres are, and say how much is left elsewhere."""

import numpy as np
import pytest

from plaitlog.models.calibration.smooth import JITTER, Smooth, smooth_at, smooth_of


def kernel(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    return np.exp(-np.sum((first[:, None] - second) ** 2, axis=-1) / 2)


def points(count: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=(count, 6))


def features(smooth: Smooth, at: np.ndarray) -> np.ndarray:
    return smooth.features_and_slopes(at, np.zeros(smooth.size))[0]


def test_features_reproduce_the_kernel_between_centres() -> None:
    centres = points(10)
    found = features(smooth_at(centres), centres)
    assert found @ found.T == pytest.approx(kernel(centres, centres), abs=50 * JITTER)


def test_features_are_the_best_approximation_elsewhere() -> None:
    centres, others = points(10), points(20, seed=2)
    smooth = smooth_at(centres)
    between = kernel(others, centres)
    exact = between @ np.linalg.solve(kernel(centres, centres) + JITTER * np.eye(10), between.T)
    assert features(smooth, others) @ features(smooth, others).T == pytest.approx(exact, abs=1e-9)
    assert (np.sum(features(smooth, others) ** 2, axis=1) <= 1).all()


def test_values_are_features_times_coefficients() -> None:
    smooth, others, weights = smooth_at(points(10)), points(20, seed=2), np.arange(10.0)
    assert smooth.values(others, weights) == pytest.approx(features(smooth, others) @ weights)


def test_slopes_are_differences_of_values() -> None:
    smooth, others, weights = smooth_at(points(10)), points(20, seed=2), np.arange(10.0)
    _, slopes = smooth.features_and_slopes(others, weights)
    for k in range(2):
        step = np.zeros(6)
        step[k] = 1e-5
        difference = smooth.values(others + step, weights) - smooth.values(others - step, weights)
        assert slopes[:, k] == pytest.approx(difference / 2e-5, abs=1e-8)


def test_far_from_every_centre_nothing_is_known() -> None:
    smooth = smooth_at(points(10))
    assert features(smooth, points(3) + 50) == pytest.approx(0.0)


def test_centres_spread_over_the_points_and_do_not_depend_on_their_order() -> None:
    cloud = points(200)
    smooth = smooth_of(cloud, 20)
    again = smooth_of(cloud[::-1], 20)
    assert smooth.size == 20
    assert (smooth.centres == again.centres).all()
    nearest = np.sqrt(-2 * np.log(kernel(cloud, smooth.centres).max(axis=1)))
    assert nearest.max() < np.sqrt(-2 * np.log(kernel(cloud, cloud[:20]).max(axis=1))).max()


def test_no_points_no_features() -> None:
    assert features(smooth_of(np.zeros((0, 6)), 8), points(3)).shape == (3, 0)


def test_equal_points_give_one_centre() -> None:
    assert smooth_of(np.ones((9, 6)), 8).size == 1
