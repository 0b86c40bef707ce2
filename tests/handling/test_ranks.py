"""Rank correlation with ties, in resamples too, and the influence of single whips on it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.stats import spearmanr

from plaitlog.models.handling.ranks import (
    influence,
    resampled_correlations,
    spearman,
    standard_ranks,
)

SCORES = arrays(np.float64, st.tuples(st.just(2), st.integers(5, 30)), elements=st.integers(1, 6))


@given(SCORES)
def test_rank_correlation_with_ties_is_that_of_scipy(columns: np.ndarray) -> None:
    x, y = columns
    if np.ptp(x) == 0 or np.ptp(y) == 0:
        assert np.isnan(spearman(x, y))
    else:
        assert spearman(x, y) == pytest.approx(spearmanr(x, y).statistic, abs=1e-12)


@settings(max_examples=50)
@given(SCORES, st.integers(0, 10**6))
def test_resampled_correlations_are_those_of_the_repeated_whips(columns: np.ndarray, seed: int) -> None:
    x, y = columns
    drawn = np.random.default_rng(seed).integers(0, len(x), (4, len(x)))
    weights = np.array([np.bincount(row, minlength=len(x)) for row in drawn], dtype=float)
    found = resampled_correlations(x[None], y[None], weights)[:, 0, 0]
    for row, rho in zip(drawn, found, strict=True):
        assert rho == pytest.approx(spearman(x[row], y[row]), abs=1e-9, nan_ok=True)


@pytest.mark.parametrize("ties", [False, True])
def test_influence_is_the_slope_of_the_correlation_as_a_whip_gains_weight(ties: bool) -> None:
    rng = np.random.default_rng(3)
    x = rng.normal(size=12)
    y = x + rng.normal(size=12)
    if ties:
        x, y = np.round(x), np.round(y)
    step = 1e-6
    weights = (1 - step) * np.ones((12, 12)) + step * 12 * np.eye(12)
    slopes = (resampled_correlations(x[None], y[None], weights)[:, 0, 0] - spearman(x, y)) / step
    assert influence(x, y) == pytest.approx(slopes, abs=1e-4)
    assert influence(x, y).sum() == pytest.approx(0, abs=1e-10)


def test_a_constant_column_has_no_ranks_to_correlate() -> None:
    assert not standard_ranks(np.full((1, 6), 4.0)).any()
