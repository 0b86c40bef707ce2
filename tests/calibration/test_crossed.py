"""Sums by level size give the likelihood of the dense formula, whatever the sizes of the levels."""

import numpy as np
import pytest
from numpy.typing import NDArray

from plaitlog.models.calibration.mixed.crossed import (
    component_names,
    crossed_criterion,
    crossed_sums,
    fit_crossed,
)
from plaitlog.models.calibration.mixed.mixed_model import Criterion

Floats = NDArray[np.float64]
Data = tuple[Floats, Floats, dict[str, NDArray[np.intp]], NDArray[np.intp]]
SDS = np.array([0.5, 0.7, 0.3, 0.4])


def simulated(seed: int, rows: int = 150, sds: Floats = SDS) -> Data:
    """Cords, cords by count, whips of uneven sizes; an intercept and a slope."""
    rng = np.random.default_rng(seed)
    cord, count, whip = rng.integers(0, 6, rows), rng.integers(0, 4, rows), rng.integers(0, 30, rows)
    factors = {"cord": cord, "cord_count": cord * 4 + count}
    X = np.column_stack([np.ones(rows), rng.normal(size=rows)])
    levels = [rng.normal(0, sd, 30) for sd in sds[1:]]
    y = X @ [2.0, 0.3] + levels[0][cord] + levels[1][factors["cord_count"]] + levels[2][whip]
    return y + rng.normal(0, sds[0], rows), X, factors, whip


def dense_criterion(data: Data, sds: Floats, kind: Criterion) -> float:
    y, X, factors, whip = data
    V = sds[0] ** 2 * np.eye(len(y))
    for sd, codes in zip(sds[1:], [*factors.values(), whip], strict=True):
        V += sd**2 * (codes[:, None] == codes)
    solved = np.linalg.solve(V, np.column_stack([X, y]))
    information = X.T @ solved[:, :-1]
    left = y - X @ np.linalg.solve(information, X.T @ solved[:, -1])
    value = left @ np.linalg.solve(V, left) + np.linalg.slogdet(V)[1]
    freedom = len(y)
    if kind == "reml":
        value += np.linalg.slogdet(information)[1]
        freedom -= X.shape[1]
    return float(value + freedom * np.log(2 * np.pi))


@pytest.mark.parametrize("kind", ["ml", "reml"])
@pytest.mark.parametrize("seed", range(3))
def test_the_criterion_is_that_of_the_dense_formula(seed: int, kind: Criterion) -> None:
    data = simulated(seed)
    sums = crossed_sums(*data)
    assert component_names(sums) == ("residual", "cord", "cord_count", "absorbed")
    assert len(sums.sizes) > 5
    for sds in (SDS, SDS[::-1], np.array([0.3, 0.0, 0.2, 0.0])):
        found, _ = crossed_criterion(sums, sds, kind)
        assert found == pytest.approx(dense_criterion(data, sds, kind), rel=1e-10)


@pytest.mark.parametrize("kind", ["ml", "reml"])
def test_the_gradient_is_the_difference(kind: Criterion) -> None:
    sums = crossed_sums(*simulated(4))
    _, gradient = crossed_criterion(sums, SDS, kind)
    for k in range(4):
        step = np.zeros(4)
        step[k] = 1e-5
        high, low = (crossed_criterion(sums, SDS * np.exp(sign * step), kind)[0] for sign in (1, -1))
        assert gradient[k] == pytest.approx((high - low) / 2e-5, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("kind", ["ml", "reml"])
def test_the_optimum_recovers_the_truth(kind: Criterion) -> None:
    data = simulated(6, rows=40_000)
    fit = fit_crossed(*data, criterion=kind)
    assert fit.converged
    assert fit.singular == ()
    assert fit.standard_deviations["residual"] == pytest.approx(0.5, rel=0.02)
    assert fit.standard_deviations["cord_count"] == pytest.approx(0.3, rel=0.4)
    assert fit.standard_deviations["absorbed"] == pytest.approx(0.4, rel=0.4)
    assert fit.coefficients[1] == pytest.approx(0.3, abs=4 * np.sqrt(fit.covariance[1, 1]))


def test_nothing_near_the_optimum_is_better() -> None:
    data = simulated(7)
    fit = fit_crossed(*data)
    sds = np.array(list(fit.standard_deviations.values()))
    for k in np.flatnonzero(sds):
        for factor in (0.99, 1.01):
            moved = sds.copy()
            moved[k] *= factor
            assert dense_criterion(data, moved, "ml") > fit.criterion


def test_a_component_that_is_not_there_is_zero() -> None:
    data = simulated(1, rows=600, sds=np.array([0.5, 0.7, 0.0, 0.4]))
    y, X, factors, whip = data
    noise = np.random.default_rng(0).permutation(len(y)) % 2
    fit = fit_crossed(y, X, {"cord": factors["cord"], "coin": noise}, whip)
    assert fit.singular == ("coin",)
    assert fit.standard_deviations["coin"] == 0.0
    assert fit.converged


def test_without_an_absorbed_factor_it_is_the_same_model() -> None:
    y, X, factors, whip = simulated(8)
    plain = fit_crossed(y, X, {**factors, "whip": whip})
    absorbed = fit_crossed(y, X, factors, whip)
    assert plain.criterion == pytest.approx(absorbed.criterion, abs=1e-7)
    assert list(plain.standard_deviations.values()) == pytest.approx(
        list(absorbed.standard_deviations.values()), rel=1e-4
    )
    assert plain.coefficients == pytest.approx(absorbed.coefficients, rel=1e-6)
    assert plain.effects["cord"] == pytest.approx(absorbed.effects["cord"], abs=1e-5)


def test_what_cannot_be_fitted_is_refused_in_words() -> None:
    y, X, factors, whip = simulated(9)
    with pytest.raises(ValueError, match="one entry for each row"):
        fit_crossed(y[1:], X, factors, whip)
    with pytest.raises(ValueError, match="depend on each other"):
        fit_crossed(y, np.column_stack([X, X[:, 1]]), factors, whip)
    with pytest.raises(ValueError, match="no spread"):
        fit_crossed(np.full(len(y), 3.0), X[:, :1], factors, whip)
    with pytest.raises(ValueError, match="finite"):
        fit_crossed(np.where(np.arange(len(y)) == 3, np.nan, y), X, factors, whip)
