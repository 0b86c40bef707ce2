"""Estimated variance components: the right optimum, recovered truths, the corners of the space."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize

from plaitlog.models.calibration.mixed.estimation import estimate, log_bounds, search_from
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    FixedBlock,
    LinearMixedModel,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.mixed.posterior import posterior_at
from plaitlog.models.calibration.mixed.variance import criterion, criterion_and_gradient
from tests.calibration.dense_model import example


def random_model(seed: int) -> LinearMixedModel:
    """Small models of any scale, some with zero components, priors or known variances."""
    rng = np.random.default_rng(seed)
    n, levels = int(rng.integers(25, 60)), int(rng.integers(3, 8))
    X = np.column_stack([np.ones(n), rng.normal(size=(n, 8)) * 10.0 ** rng.uniform(-2, 2)])
    P = np.column_stack([np.ones(n), rng.normal(size=n)])
    codes = rng.integers(0, levels, n)
    truth, scale = rng.choice([0.0, 0.3, 2.0], size=4), 10.0 ** rng.uniform(-3, 3)
    effects = X[:, 1:6] @ rng.normal(size=5) * truth[0] + X[:, 6:] @ rng.normal(size=3) * truth[1]
    effects += (P * (rng.normal(size=(levels, 2)) * truth[2:])[codes]).sum(axis=1)
    return mixed_model(
        scale * (effects + rng.normal(size=n)),
        X,
        [
            FixedBlock("intercept", [0]),
            RandomBlock("first", range(1, 6), LogNormalPrior(scale, 1.0) if seed % 3 == 0 else None),
            RandomBlock("second", range(6, 9)),
        ],
        absorbed=AbsorbedFactor(codes, P, ["whip", "slope"]),
        known_variance=rng.uniform(0, 0.3, n) * scale**2 if seed % 2 else None,
        criterion="ml" if seed % 5 == 0 else "reml",
    )


@pytest.mark.parametrize("seed", range(30))
def test_no_other_optimiser_finds_a_lower_criterion(seed: int) -> None:
    """scipy's L-BFGS-B from six random starts; the search must also say that it converged."""
    model = random_model(seed)
    fit = estimate(model)
    assert fit.convergence.converged
    assert fit.criterion == pytest.approx(criterion(model, fit.sds), rel=1e-12)
    low, high = log_bounds(model)
    rng = np.random.default_rng(seed)

    def objective(x: np.ndarray) -> tuple[float, np.ndarray]:
        try:
            return criterion_and_gradient(model, np.exp(x))
        except np.linalg.LinAlgError:
            return 1e10, np.zeros_like(x)

    for _ in range(6):
        start = rng.uniform(low + 2.0, high - 4.0)
        other = minimize(
            objective, start, jac=True, method="L-BFGS-B", bounds=list(zip(low, high, strict=True))
        )
        assert fit.criterion <= other.fun + 1e-6


def test_true_components_are_recovered() -> None:
    """300 levels of two effects and 200 of a crossed factor: within four standard errors of the truth."""
    rng = np.random.default_rng(11)
    n, truth = 3000, {"residual": 0.012, "cord": 0.05, "whip": 0.03, "drift": 0.01}
    whips, cords = rng.integers(0, 300, n), rng.integers(0, 200, n)
    P = np.column_stack([np.ones(n), rng.uniform(-1, 1, n)])
    known = (0.05 / rng.uniform(5, 20, n)) ** 2
    X = np.column_stack([np.ones(n), np.eye(200)[cords]])
    y = (
        2.0
        + rng.normal(size=200)[cords] * truth["cord"]
        + (P * (rng.normal(size=(300, 2)) * [truth["whip"], truth["drift"]])[whips]).sum(axis=1)
        + rng.normal(size=n) * np.sqrt(truth["residual"] ** 2 + known)
    )
    model = mixed_model(
        y, X, [FixedBlock("intercept", [0]), RandomBlock("cord", range(1, 201))],
        absorbed=AbsorbedFactor(whips, P, ["whip", "drift"]), known_variance=known,
    )  # fmt: skip
    fit = estimate(model)
    counts = {"residual": n - 801, "cord": 199, "whip": 300, "drift": 300}
    for name, sd in zip(fit.component_names, fit.sds, strict=True):
        # The relative error of a standard deviation from k effects seen through noise is above 1 / sqrt(2 k).
        assert sd == pytest.approx(truth[name], rel=4 * 1.5 / math.sqrt(2 * counts[name]))
    posterior = posterior_at(model, fit.sds)
    z = (posterior.coefficients[0] - 2.0) / math.sqrt(posterior.covariance[0, 0])
    assert abs(z) < 4


def test_scale_of_y_and_of_a_block_carry_over() -> None:
    one = example(4)
    blocks = [FixedBlock("flat", range(4)), RandomBlock("r", range(4, 9))]
    plain = estimate(mixed_model(one.y, one.X, blocks))
    scaled = estimate(mixed_model(1e3 * one.y, one.X * np.r_[np.ones(4), np.full(5, 1e-2)], blocks))
    assert scaled.sds == pytest.approx(plain.sds * [1e3, 1e5], rel=1e-6)


def test_prior_keeps_a_component_from_zero() -> None:
    """Where the rows say zero, the log-normal prior holds the standard deviation near its median."""
    rng = np.random.default_rng(2)
    y, X = rng.normal(size=40), np.column_stack([np.ones(40), np.eye(8)[np.arange(40) % 8]])
    y -= X[:, 1:] @ (X[:, 1:].T @ y) / 5  # no differences between the eight means at all
    free = estimate(mixed_model(y, X, [FixedBlock("i", [0]), RandomBlock("cord", range(1, 9))]))
    held = estimate(
        mixed_model(y, X, [FixedBlock("i", [0]), RandomBlock("cord", range(1, 9), LogNormalPrior(0.1, 0.2))])
    )
    assert free.convergence.singular == ("cord",)
    assert free.sds[1] == 0.0
    assert 0.05 < held.sds[1] < 0.1
    assert held.convergence.singular == ()


def test_component_that_no_row_touches_keeps_its_prior_or_is_zero() -> None:
    y, X = np.random.default_rng(3).normal(size=20), np.column_stack([np.ones(20), np.zeros((20, 2))])
    prior = LogNormalPrior(0.3, 0.5)
    held = estimate(mixed_model(y, X, [FixedBlock("i", [0]), RandomBlock("cord", [1, 2], prior)]))
    assert held.sds[1] == pytest.approx(0.3)
    free = estimate(mixed_model(y, X, [FixedBlock("i", [0]), RandomBlock("cord", [1, 2])]))
    assert free.sds[1] == 0.0
    posterior = posterior_at(mixed_model(y, X, [FixedBlock("i", [0]), RandomBlock("c", [1, 2])]), held.sds)
    assert np.diag(posterior.covariance)[1:] == pytest.approx([0.09, 0.09])


def test_more_columns_than_rows() -> None:
    rng = np.random.default_rng(4)
    X = np.column_stack([np.ones(30), rng.normal(size=(30, 200))])
    y = X[:, 1:] @ rng.normal(size=200) * 0.3 + rng.normal(size=30)
    fit = estimate(mixed_model(y, X, [FixedBlock("i", [0]), RandomBlock("r", range(1, 201))]))
    assert fit.convergence.converged
    assert 0.15 < fit.sds[1] < 0.5


def test_one_level_only() -> None:
    """One level says nothing about the spread of levels once the mean is free: zero, a plain regression."""
    y = np.random.default_rng(5).normal(size=12)
    model = mixed_model(
        y,
        np.ones((12, 1)),
        [FixedBlock("i", [0])],
        absorbed=AbsorbedFactor(np.zeros(12), np.ones((12, 1)), ["w"]),
    )
    fit = estimate(model)
    assert fit.convergence.singular == ("w",)
    assert fit.sds[0] == pytest.approx(y.std(ddof=1), rel=1e-6)


@pytest.mark.parametrize("constant", [0.0, 5.0, -1e6])
def test_constant_y(constant: float) -> None:
    rng = np.random.default_rng(6)
    X = np.column_stack([np.ones(15), rng.normal(size=(15, 3))])
    model = mixed_model(np.full(15, constant), X, [FixedBlock("i", [0]), RandomBlock("r", range(1, 4))])
    posterior = posterior_at(model, estimate(model).sds)
    assert posterior.coefficients == pytest.approx(
        [constant, 0.0, 0.0, 0.0], abs=1e-9 * max(1.0, abs(constant))
    )


def test_saturated_rows_are_reported() -> None:
    """As many flat columns as rows: nothing is left to tell the residual by, and that is said."""
    rng = np.random.default_rng(7)
    model = mixed_model(rng.normal(size=4), rng.normal(size=(4, 4)), [FixedBlock("f", range(4))])
    fit = estimate(model)
    assert [finding.code for finding in fit.convergence.findings] == ["saturated"]


@pytest.mark.parametrize("ratio", [1.05, 1.3, 3.0])
@pytest.mark.parametrize("start", [1e-12, 1e-4, 1e-2, 1e3])
def test_one_search_leaves_a_false_zero(start: float, ratio: float) -> None:
    """Started where the gradient in log sd is all rounding, a component still grows to its estimate."""
    levels = np.repeat(np.arange(6), 5)
    rng = np.random.default_rng(8)
    scatter = rng.normal(size=(6, 5))
    scatter -= scatter.mean(axis=1, keepdims=True)
    within = (scatter**2).sum() / 24
    means = rng.normal(size=6)
    means *= math.sqrt(ratio * within / 5 / means.var(ddof=1))  # the mean squares have exactly this ratio
    y = means[levels] + scatter.ravel()
    factor = AbsorbedFactor(levels, np.ones((30, 1)), ["w"])
    model = mixed_model(y, np.ones((30, 1)), [FixedBlock("i", [0])], absorbed=factor)
    fit = search_from(model, np.array([y.std(ddof=1), start]))  # the best sigma where the component is zero
    # balanced one-way layout: REML is the analysis of variance estimate when that is positive
    assert fit.sds == pytest.approx([math.sqrt(within), math.sqrt((ratio - 1) * within / 5)], rel=1e-5)


def test_start_is_taken_and_recorded() -> None:
    model = random_model(12)
    fit = estimate(model)
    assert fit.convergence.singular == ()
    again = estimate(model, fit.sds)
    assert again.convergence.evaluations <= 5
    assert again.criterion == pytest.approx(fit.criterion, abs=1e-9)
    assert again.sds == pytest.approx(fit.sds, rel=1e-5)
