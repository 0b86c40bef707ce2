"""Intervals of rank correlations."""

import numpy as np
import pytest
from scipy.stats import bootstrap, spearmanr

from plaitlog.models.handling import rank_intervals as module
from plaitlog.models.handling.rank_intervals import MANY, rank_intervals
from plaitlog.models.handling.ranks import Array, standard_ranks
from tests.benchmarks.handling import covers


def interval(x: Array, y: Array, resamples: int = 2_000, seed: int = 0) -> tuple[float, float]:
    X, Y = x[None], y[None]
    low, high = rank_intervals(X, Y, standard_ranks(X) @ standard_ranks(Y).T, resamples, seed)
    return float(low[0, 0]), float(high[0, 0])


def related(n: int, share: float = 0.6, seed: int = 0) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    x = rng.normal(size=n)
    return x, np.round(share * x + np.sqrt(1 - share**2) * rng.normal(size=n), 1)


def test_ends_are_those_of_the_bootstrap_of_scipy() -> None:
    x, y = related(30)

    def rho(x: Array, y: Array) -> float:
        return float(spearmanr(x, y).statistic)

    theirs = bootstrap((x, y), rho, paired=True, vectorized=False, n_resamples=4_000, method="BCa", rng=1)
    assert interval(x, y, 20_000) == pytest.approx(tuple(theirs.confidence_interval), abs=0.03)


def test_the_closed_form_for_many_whips_is_where_resampling_leads(monkeypatch: pytest.MonkeyPatch) -> None:
    x, y = related(MANY)
    drawn = interval(x, y, 4_000)
    monkeypatch.setattr(module, "MANY", MANY - 1)
    assert interval(x, y) == pytest.approx(drawn, abs=0.004)


@pytest.mark.parametrize(("n", "rho"), [(15, 0.3), (40, 0.6)])
def test_intervals_cover_the_truth_as_often_as_they_say(n: int, rho: float) -> None:
    """Of 400 samples: 92 to 97 %, and the error of 400 samples (two standard errors of 1.1 %) around it."""
    inside = np.mean([covers(n, rho, seed, resamples=500) for seed in range(400)])
    assert 0.92 - 0.022 <= inside <= 0.97 + 0.022


def test_no_interval_where_resamples_cannot_differ() -> None:
    x = np.arange(6.0)
    assert np.isnan(interval(x, x)).all()
    assert np.isnan(interval(x, np.full(6, 3.0))).all()
