"""Predictions of a mixed model against kriging with the whole covariance matrix, and averaging over draws."""

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.stats import norm

from plaitlog.models.calibration.mixed.draws import averaged_posterior, draw_sds
from plaitlog.models.calibration.mixed.estimation import estimate
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    FixedBlock,
    LinearMixedModel,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.mixed.posterior import (
    condition_new_level,
    posterior_at,
    predict_joint,
    predict_rows,
)
from plaitlog.models.calibration.mixed.variance import criterion
from tests.calibration.dense_model import SDS, dense_prediction, example


def new_rows(seed: int, levels: list[int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    r = len(levels)
    return np.column_stack([np.ones(r), rng.normal(size=(r, 8))]), rng.normal(size=(r, 3)), np.array(levels)


@pytest.mark.parametrize("sds", [SDS, SDS * [1, 0, 1, 1, 0], SDS * [1, 1, 0, 0, 5]])
def test_predictions_are_kriging(sds: np.ndarray) -> None:
    one = example(1)
    posterior = posterior_at(one.model("reml", priors=False), sds)
    X, P, levels = new_rows(2, [0, 3, 3, 5, -1, -1, -2])
    mean, variance = predict_rows(posterior, X, P, levels)
    expected, covariance = dense_prediction(one, sds, X, P, levels)
    assert mean == pytest.approx(expected, rel=1e-9)
    assert variance == pytest.approx(np.diag(covariance), rel=1e-9)


def test_joint_predictions_are_kriging() -> None:
    one = example(3)
    posterior = posterior_at(one.model("reml", priors=False), SDS)
    X, P, levels = new_rows(4, [2, -1, 2, -2, -1, 2])
    mean, covariance = predict_joint(posterior, X, P, levels)
    expected, expected_covariance = dense_prediction(one, SDS, X, P, levels)
    assert mean == pytest.approx(expected, rel=1e-9)
    assert covariance == pytest.approx(expected_covariance, rel=1e-8, abs=1e-10)
    with pytest.raises(ValueError, match="one known level"):
        predict_joint(posterior, X, P, np.array([2, 1, 2, -1, -1, 2]))


def test_learning_a_new_level_is_refitting_with_it() -> None:
    """Conditioning on readings of a new level equals the posterior of all rows together, at the same sds."""
    one = example(5, rows=46)
    old = dataclasses.replace(one, **{k: v[:40] for k, v in vars(one).items()})
    one.levels[40:] = 6
    learned = condition_new_level(
        posterior_at(old.model("reml", priors=False), SDS),
        one.X[40:], one.P[40:], one.y[40:], (SDS[0] ** 2 + one.known[40:]) / one.weights[40:],
    )  # fmt: skip
    X, P, _ = new_rows(6, [0] * 5)
    mean, variance = predict_rows(learned, X, P, np.zeros(5, dtype=int))
    whole = posterior_at(one.model("reml", priors=False), SDS)
    expected, expected_variance = predict_rows(whole, X, P, np.full(5, 6))
    assert mean == pytest.approx(expected, rel=1e-8)
    assert variance == pytest.approx(expected_variance, rel=1e-8)


def test_rows_without_the_absorbed_factor() -> None:
    posterior = posterior_at(example(1).model("reml", priors=False), SDS)
    X, P, _ = new_rows(2, [0] * 4)
    mean, variance = predict_rows(posterior, X)
    assert mean == pytest.approx(X @ posterior.coefficients)
    assert (predict_rows(posterior, X, P, np.full(4, -1))[1] > variance).all()


def test_rows_that_do_not_fit_are_refused() -> None:
    posterior = posterior_at(example(1).model("reml", priors=False), SDS)
    X, P, levels = new_rows(2, [0, 1])
    with pytest.raises(ValueError, match="new rows need"):
        predict_rows(posterior, X[:, :5], P, levels)
    with pytest.raises(ValueError, match="below 6"):
        predict_rows(posterior, X, P, levels + 5)


def few_levels(prior: LogNormalPrior | None, seed: int = 0, level_count: int = 5) -> LinearMixedModel:
    """An intercept and a few levels of four rows each: the spread of levels is hardly known."""
    rng = np.random.default_rng(seed)
    levels = np.repeat(np.arange(level_count), 4)
    y = rng.normal(size=level_count)[levels] * 0.8 + rng.normal(size=4 * level_count)
    factor = AbsorbedFactor(levels, np.ones((len(y), 1)), ["whip"], {"whip": prior} if prior else {})
    residual = LogNormalPrior(1.0, 0.02)  # known as good as exactly: the integral is over one sd
    return mixed_model(
        y, np.ones((len(y), 1)), [FixedBlock("i", [0])], absorbed=factor, residual_prior=residual
    )


def test_many_draws_are_the_flat_prior_on_the_standard_deviation() -> None:
    """Weighted draws against numerical integration of the likelihood over s."""
    model = few_levels(None, seed=2, level_count=20)
    fit = estimate(model)
    grid = np.linspace(1e-3, 4.0, 800)
    density = np.exp([-(criterion(model, [fit.sds[0], s]) - fit.criterion) / 2 for s in grid])
    expected = trapezoid(density * grid, grid) / trapezoid(density, grid)
    draws = draw_sds(model, fit, 512)
    assert draws.weights @ draws.sds[:, 1] == pytest.approx(expected, rel=0.02)


# With a prior sixteen draws are good to a few per cent; the flat prior leaves a heavy right tail.
@pytest.mark.parametrize(
    ("prior", "level_count", "share"), [(LogNormalPrior(0.7, 0.6), 8, 0.06), (None, 20, 0.3)]
)
@pytest.mark.parametrize("seed", range(4))
def test_averaging_is_the_integral_over_the_standard_deviation(
    prior: LogNormalPrior | None, level_count: int, share: float, seed: int
) -> None:
    """Mean and variance of a new level's prediction against numerical integration over log sd."""
    model = few_levels(prior, seed, level_count)
    fit = estimate(model)
    draws = draw_sds(model, fit)
    assert draws.weights.sum() == pytest.approx(1.0)
    posterior = averaged_posterior(model, draws)
    grid = np.linspace(math.log(0.005), math.log(20.0), 400)
    # without a prior the standard deviation itself is uniform: a factor s in log s
    log_density = np.array([-criterion(model, [fit.sds[0], s]) / 2 for s in np.exp(grid)])
    log_density += 0.0 if prior else grid
    density = np.exp(log_density - log_density.max())
    density /= trapezoid(density, grid)
    single = [posterior_at(model, [fit.sds[0], s]) for s in np.exp(grid)]
    variance = trapezoid(density * np.exp(2 * grid), grid)
    effects = trapezoid(density[:, None] * np.array([p.level_means[:, 0] for p in single]), grid, axis=0)
    assert posterior.new_level_variance[0] == pytest.approx(variance, rel=share)
    assert posterior.level_means[:, 0] == pytest.approx(effects, abs=0.25 * share)


def test_averaged_moments_of_a_mixture() -> None:
    """Variance of the mixture: mean of the variances plus variance of the means, known levels included."""
    one = example(2)
    model = one.model("reml")
    draws = draw_sds(model, estimate(model), 8)
    X, P, levels = new_rows(3, [0, 2, 5, -1])
    parts = [predict_rows(posterior_at(model, sds), X, P, levels) for sds in draws.sds]
    means, variances = np.array([m for m, _ in parts]), np.array([v for _, v in parts])
    mean = draws.weights @ means
    variance = draws.weights @ (variances + (means - mean) ** 2)
    got_mean, got_variance = predict_rows(averaged_posterior(model, draws), X, P, levels)
    assert got_mean == pytest.approx(mean, rel=1e-10)
    assert got_variance == pytest.approx(variance, rel=1e-9)


def test_draws_are_reproducible_and_near_the_estimate() -> None:
    model = example(2).model("reml")
    fit = estimate(model)
    first, second = draw_sds(model, fit), draw_sds(model, fit)
    assert np.array_equal(first.sds, second.sds)
    assert first.sds.shape == (16, 5)
    assert first.effective > 4
    assert (first.sds.min(axis=0) < fit.sds).all()
    assert (fit.sds < first.sds.max(axis=0)).all()
    with pytest.raises(ValueError, match="even"):
        draw_sds(model, fit, 5)


def test_draws_leave_the_boundary() -> None:
    """A component estimated as zero is not known to be zero: a new level keeps some variance."""
    rng = np.random.default_rng(1)
    y, levels = rng.normal(size=20), np.repeat(np.arange(5), 4)
    y -= np.array([y[levels == k].mean() for k in range(5)])[levels]
    model = mixed_model(
        y, np.ones((20, 1)), [FixedBlock("i", [0])], absorbed=AbsorbedFactor(levels, np.ones((20, 1)), ["w"])
    )
    fit = estimate(model)
    assert fit.sds[1] == 0.0
    posterior = averaged_posterior(model, draw_sds(model, fit))
    assert 0.0 < posterior.new_level_variance[0] < 0.3 * y.var()


def test_coverage_with_few_levels() -> None:
    """90 % intervals for a new level after eight: averaging covers, the plug-in estimate less."""
    rng = np.random.default_rng(12)
    levels, hits = np.repeat(np.arange(8), 3), np.zeros((200, 2))
    prior = LogNormalPrior(0.5, 1.0)
    for trial in range(200):
        spread = prior.median * math.exp(prior.log_sd * rng.normal())
        y = rng.normal(size=8)[levels] * spread + 0.3 * rng.normal(size=24)
        truth = spread * rng.normal()
        model = mixed_model(
            y, np.ones((24, 1)), [FixedBlock("i", [0])],
            absorbed=AbsorbedFactor(levels, np.ones((24, 1)), ["w"], {"w": prior}),
        )  # fmt: skip
        fit = estimate(model)
        for column, posterior in enumerate(
            [posterior_at(model, fit.sds), averaged_posterior(model, draw_sds(model, fit))]
        ):
            mean, variance = predict_rows(posterior, [[1.0]], [[1.0]], [-1])
            hits[trial, column] = abs(truth - mean[0]) < norm.ppf(0.95) * math.sqrt(variance[0])
    plug_in, averaged = hits.mean(axis=0)
    assert averaged > plug_in
    assert 0.86 < averaged < 0.95


def test_random_block_with_an_empty_column_predicts_a_cord_never_seen() -> None:
    rng = np.random.default_rng(3)
    cords = np.repeat(np.arange(6), 5)
    X = np.column_stack([np.ones(30), np.eye(7)[cords]])  # the seventh cord has no reading
    y = X @ np.r_[1.0, rng.normal(size=7)] + 0.2 * rng.normal(size=30)
    posterior = posterior_at(
        mixed_model(y, X, [FixedBlock("i", [0]), RandomBlock("cord", range(1, 8))]), [0.2, 0.9]
    )
    seen, unseen = np.eye(7)[[0, 6]]
    _, variance = predict_rows(posterior, [np.r_[1.0, seen], np.r_[1.0, unseen]])
    # mean of six cords plus the spread of cords
    assert variance[1] == pytest.approx(0.9**2 * (1 + 1 / 6) + 0.2**2 / 30)
    assert variance[0] < 0.2**2
