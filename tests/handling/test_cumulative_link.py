"""The cumulative logit model against statsmodels, numerical differences and simulated truths."""

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from plaitlog.models.handling.cumulative_link import _objective, fit_cumulative_link
from plaitlog.models.handling.study import Array

CUTS = np.array([-3.0, -2.0, -1.0, 0.0, 0.7, 1.8, 3.0])
SLOPES = np.array([1.0, -0.5, 0.0, 0.3])


def simulated(n: int, seed: int, slopes: Array = SLOPES) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    X = rng.standard_normal((n, len(slopes)))
    ratings = np.digitize(X @ slopes + rng.logistic(size=n), CUTS) + 2.0
    return X, ratings


def test_without_shrinkage_it_is_the_ordered_model_of_statsmodels() -> None:
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    X, ratings = simulated(300, 1)
    found = fit_cumulative_link(X, ratings, np.inf)
    oracle = OrderedModel(ratings, X, distr="logit").fit(method="bfgs", disp=0, gtol=1e-7)
    assert found.log_likelihood == pytest.approx(oracle.llf, abs=1e-4)
    assert found.slopes == pytest.approx(oracle.params[:4], abs=1e-3)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(oracle.bse[:4], rel=1e-2)
    assert found.probabilities(X) == pytest.approx(oracle.predict(), abs=1e-3)


@pytest.mark.parametrize("prior_sd", [0.3, np.inf])
def test_gradient_and_hessian_are_those_of_numerical_differences(prior_sd: float) -> None:
    X, ratings = simulated(60, 2)
    levels, of = np.unique(ratings, return_inverse=True)
    cuts = len(levels) - 1
    theta = np.concatenate([[-2.5], np.linspace(-0.4, 0.6, cuts - 1), 0.5 * SLOPES])

    def value(at: Array) -> float:
        return _objective(at, X, of, cuts, prior_sd)[0]

    def gradient(at: Array) -> Array:
        return _objective(at, X, of, cuts, prior_sd)[1]

    _, slope, curve = _objective(theta, X, of, cuts, prior_sd)
    assert slope == pytest.approx(approx_fprime(theta, value, 1e-6), abs=1e-3)
    assert curve == pytest.approx(approx_fprime(theta, gradient, 1e-6), abs=1e-3)


def test_intervals_cover_the_slopes_that_were_planted() -> None:
    inside = []
    for seed in range(150):
        X, ratings = simulated(120, seed)
        found = fit_cumulative_link(X, ratings, 3.0)
        inside.append(np.abs(found.slopes - SLOPES) <= 1.96 * np.sqrt(np.diag(found.covariance)))
    assert 0.92 <= np.mean(inside) <= 0.975


def test_bayes_intervals_cover_slopes_drawn_from_the_prior_at_twenty_whips() -> None:
    rng = np.random.default_rng(3)
    inside = []
    for seed in range(250):
        slopes = rng.normal(0.0, 0.7, 4)
        X, ratings = simulated(20, seed, slopes)
        found = fit_cumulative_link(X, ratings, 0.7)
        inside.append(np.abs(found.slopes - slopes) <= 1.96 * np.sqrt(np.diag(found.covariance)))
    assert 0.92 <= np.mean(inside) <= 0.975


def test_a_stricter_prior_holds_the_slopes_nearer_to_none() -> None:
    X, ratings = simulated(80, 4)
    sizes = [
        np.linalg.norm(fit_cumulative_link(X, ratings, sd).slopes) for sd in (1e-3, 0.1, 0.5, 2.0, np.inf)
    ]
    assert sizes == sorted(sizes)
    assert sizes[0] < 1e-3


def test_a_column_that_parts_good_from_bad_whips_has_a_finite_slope_under_the_prior() -> None:
    x = np.linspace(-1.5, 1.5, 10)
    found = fit_cumulative_link(x[:, None], np.where(x > 0, 8.0, 3.0), 1.0)
    assert 0.5 < found.slopes[0] < 5
    assert np.isfinite(found.covariance).all()


def test_whips_and_columns_may_come_in_any_order() -> None:
    X, ratings = simulated(50, 5)
    order = np.random.default_rng(0).permutation(50)
    found = fit_cumulative_link(X, ratings, 0.5)
    turned = fit_cumulative_link(X[order][:, ::-1], ratings[order], 0.5)
    assert turned.slopes[::-1] == pytest.approx(found.slopes, abs=1e-6)
    assert turned.log_likelihood == pytest.approx(found.log_likelihood, abs=1e-8)


def test_turning_the_scale_round_turns_the_slopes() -> None:
    X, ratings = simulated(50, 6)
    found, turned = fit_cumulative_link(X, ratings, 0.5), fit_cumulative_link(X, 11 - ratings, 0.5)
    assert turned.slopes == pytest.approx(-found.slopes, abs=1e-5)
    assert turned.thresholds == pytest.approx(-found.thresholds[::-1], abs=1e-4)


def test_levels_that_nobody_gave_are_no_levels() -> None:
    X, ratings = simulated(40, 7)
    wider = np.where(ratings > 6, 10.0, ratings)
    found = fit_cumulative_link(X, wider, 0.5)
    assert found.levels.tolist() == np.unique(wider).tolist()
    chances = found.probabilities(X)
    assert chances.sum(axis=1) == pytest.approx(1.0)
    assert (chances >= 0).all()
    assert (np.diff(found.thresholds) > 0).all()


def test_one_rating_for_all_teaches_nothing() -> None:
    X, _ = simulated(12, 8)
    found = fit_cumulative_link(X, np.full(12, 7.0), 0.5)
    assert found.slopes.tolist() == [0.0] * 4
    assert np.diag(found.covariance) == pytest.approx(0.25)
    assert found.expected(X) == pytest.approx(7.0)


def test_what_is_not_finite_is_refused() -> None:
    X, ratings = simulated(12, 9)
    X[3, 1] = np.nan
    with pytest.raises(ValueError, match="finite"):
        fit_cumulative_link(X, ratings, 0.5)
