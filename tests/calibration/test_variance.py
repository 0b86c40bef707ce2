"""The marginal likelihood against the textbook form, and its gradient against differences."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from plaitlog.models.calibration.mixed.absorbed import eliminate
from plaitlog.models.calibration.mixed.information import average_information
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    Criterion,
    FixedBlock,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.mixed.variance import criterion, criterion_and_gradient, profiled_residual_sd
from tests.calibration.dense_model import FLAT, SDS, dense_criterion, example, prior_penalty, row_covariance

BOTH: tuple[Criterion, ...] = ("reml", "ml")
sds = st.lists(st.floats(0.02, 20.0), min_size=5, max_size=5).map(np.array)


@given(
    seed=st.integers(0, 50), values=sds, kind=st.sampled_from(BOTH), known=st.booleans(), priors=st.booleans()
)
def test_criterion_is_the_textbook_likelihood(seed, values, kind, known, priors) -> None:
    one = example(seed)
    expected = dense_criterion(one, values, kind, known) + (prior_penalty(values) if priors else 0.0)
    assert criterion(one.model(kind, known, priors), values) == pytest.approx(expected, rel=1e-9)


def test_ml_without_flat_columns_is_a_normal_density() -> None:
    one = example(3)
    informative = dataclasses.replace(one, X=one.X * np.r_[np.zeros(len(FLAT)), np.ones(7)])
    mean = informative.X[:, [2, 3]] @ [0.5, -1.0]
    density = multivariate_normal(mean, row_covariance(informative, SDS, known=True)).logpdf(one.y)
    assert criterion(informative.model("ml", priors=False), SDS) == pytest.approx(-2 * density, rel=1e-12)


@given(seed=st.integers(0, 50), values=sds, kind=st.sampled_from(BOTH), known=st.booleans())
def test_gradient_is_the_slope_in_log_sd(seed, values, kind, known) -> None:
    model = example(seed).model(kind, known)
    value, gradient = criterion_and_gradient(model, values)
    step = 1e-5
    slopes = [
        (criterion(model, values * np.exp(e)) - criterion(model, values * np.exp(-e))) / (2 * step)
        for e in np.eye(5) * step
    ]
    assert gradient == pytest.approx(slopes, rel=1e-5, abs=1e-5 * (1 + abs(value)) ** 0.5)


@pytest.mark.parametrize("kind", BOTH)
def test_zero_is_the_limit(kind: Criterion) -> None:
    model = example(1).model(kind, priors=False)
    for k in range(1, 5):
        at_zero, tiny = SDS.copy(), SDS.copy()
        at_zero[k], tiny[k] = 0.0, 1e-7
        value, gradient = criterion_and_gradient(model, at_zero)
        assert value == pytest.approx(criterion(model, tiny), abs=1e-9)
        assert gradient[k] == 0.0


def test_average_information_is_the_expected_curvature() -> None:
    """In simulated data at the true values, the mean over data sets of it and of the Hessian are the same."""
    one, step = example(5, rows=60), 1e-4
    covariance = row_covariance(one, SDS, known=True)
    root, rng = np.linalg.cholesky(covariance), np.random.default_rng(0)
    averages, hessians = [], []
    for _ in range(300):
        y = one.X[:, [2, 3]] @ [0.5, -1.0] + root @ rng.normal(size=60)
        model = dataclasses.replace(one, y=y).model("reml", priors=False)
        averages.append(average_information(model, SDS, eliminate(model, SDS)))
        centre = criterion_and_gradient(model, SDS)[1]
        slopes = [criterion_and_gradient(model, SDS * np.exp(e))[1] - centre for e in np.eye(5) * step]
        hessians.append(np.array(slopes) / step)
    difference = np.array(averages) - np.array(hessians)
    error = difference.std(axis=0) / math.sqrt(300)
    assert (np.abs(difference.mean(axis=0)) < 4 * error + 1e-2).all()


def test_repeats_are_repeated_rows() -> None:
    one = example(7)
    repeats = np.random.default_rng(1).integers(0, 4, 40)
    stretched = type(one)(*(np.repeat(part, repeats, axis=0) for part in dataclasses.astuple(one)))
    for kind in BOTH:
        left = criterion_and_gradient(one.model(kind, repeats=repeats.astype(float)), SDS)
        right = criterion_and_gradient(stretched.model(kind), SDS)
        assert left[0] == pytest.approx(right[0], rel=1e-12)
        assert left[1] == pytest.approx(right[1], rel=1e-9)


def test_absorbed_is_the_same_as_dummies() -> None:
    one = example(2)
    dummies = np.eye(6)[one.levels]
    blocks = [FixedBlock("flat", range(9))]
    absorbed = mixed_model(one.y, one.X, blocks, absorbed=AbsorbedFactor(one.levels, one.P, ["a", "b", "b"]))
    wide = np.hstack([one.X, *(dummies * column[:, None] for column in one.P.T)])
    explicit = mixed_model(
        one.y, wide, [*blocks, RandomBlock("a", range(9, 15)), RandomBlock("b", range(15, 27))]
    )
    for values in ([1.0, 0.5, 0.2], [0.3, 0.0, 2.0]):
        left, right = criterion_and_gradient(absorbed, values), criterion_and_gradient(explicit, values)
        assert left[0] == pytest.approx(right[0], rel=1e-12)
        assert left[1] == pytest.approx(right[1], abs=1e-9)


def test_units_of_flat_columns_only_shift_reml() -> None:
    """log |X'V^-1 X| moves by twice the log of the factor, as in every published REML criterion."""
    one = example(4)
    scaled = dataclasses.replace(one, X=one.X * np.r_[1.0, 1000.0, np.ones(7)])
    shift = criterion(scaled.model("reml"), SDS) - criterion(one.model("reml"), SDS)
    assert shift == pytest.approx(2 * math.log(1000.0), rel=1e-10)
    assert criterion(scaled.model("ml"), SDS) == pytest.approx(criterion(one.model("ml"), SDS), rel=1e-12)


def test_aliased_flat_columns_are_left_out() -> None:
    rng = np.random.default_rng(0)
    X = np.column_stack([np.ones(20), rng.normal(size=(20, 2))])
    doubled = np.column_stack([X, X[:, 1] - 3 * X[:, 2], X[:, 0]])
    y = rng.normal(size=20)
    model = mixed_model(y, doubled, [FixedBlock("all", range(5))])
    assert model.aliased.tolist() == [3, 4]
    assert criterion(model, [1.3]) == pytest.approx(
        criterion(mixed_model(y, X, [FixedBlock("all", range(3))]), [1.3])
    )


def test_nearly_aliased_columns_are_kept() -> None:
    """A column a millionth away from another one is information; only rounding error is not."""
    rng = np.random.default_rng(1)
    X = np.column_stack([np.ones(20), rng.normal(size=(20, 2))])
    X = np.column_stack([X, X[:, 1] + 1e-6 * rng.normal(size=20), X[:, 1] + X[:, 2]])
    model = mixed_model(rng.normal(size=20), X, [FixedBlock("all", range(5))])
    assert model.flat.tolist() == [0, 1, 2, 3]
    assert model.aliased.tolist() == [4]


def test_profiled_sigma_minimises() -> None:
    one = example(6)
    blocks = [FixedBlock("flat", range(4)), RandomBlock("r", range(4, 9))]
    for kind in BOTH:
        model = mixed_model(one.y, one.X, blocks, criterion=kind)
        sigma = profiled_residual_sd(model, [0.7])
        best = criterion(model, [sigma, 0.7 * sigma])
        assert all(criterion(model, [f * sigma, f * 0.7 * sigma]) > best for f in (0.99, 1.01))
    with pytest.raises(ValueError, match="only be profiled"):
        profiled_residual_sd(one.model("reml"), [1, 1, 1, 1])


def test_inputs_are_not_changed() -> None:
    one = example(8)
    before = [part.copy() for part in dataclasses.astuple(one)]
    criterion_and_gradient(one.model("reml"), SDS)
    for part, kept in zip(dataclasses.astuple(one), before, strict=True):
        assert np.array_equal(part, kept)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"X": np.ones((3, 2))}, "one block"),
        ({"X": np.full((3, 1), np.nan)}, "finite"),
        ({"y": [1.0, 2.0]}, r"y must be \(n,\)"),
        ({"weights": [1.0, 0.0, 1.0]}, "positive"),
        ({"weights": [1.0, 1.0]}, "weights must hold 3"),
        ({"known_variance": [0.0, -1.0, 0.0]}, "not negative"),
        ({"repeats": [1.0, math.inf, 1.0]}, "repeats must hold 3"),
        ({"criterion": "map"}, "criterion"),
        ({"blocks": [FixedBlock("a", [0]), RandomBlock("b", [0])]}, "one block"),
        ({"blocks": [FixedBlock("a", [0], 0.0, 0.0)]}, "sd must be positive"),
        ({"blocks": [RandomBlock("residual", [0])]}, "two variance components"),
        ({"absorbed": AbsorbedFactor([0, 1], np.ones((2, 1)), ["w"])}, "a level and one finite number"),
        ({"absorbed": AbsorbedFactor([0, 1, 2], np.ones((3, 1)), ["w"], level_count=2)}, "levels must lie"),
        (
            {"absorbed": AbsorbedFactor([0, 1, 1], np.ones((3, 1)), ["w"], {"v": LogNormalPrior(1, 1)})},
            "unknown",
        ),
    ],
)
def test_what_does_not_fit_is_refused(change: dict[str, object], message: str) -> None:
    arguments: dict[str, object] = {
        "y": [1.0, 2.0, 4.0],
        "X": np.ones((3, 1)),
        "blocks": [FixedBlock("a", [0])],
    }
    with pytest.raises(ValueError, match=message):
        mixed_model(**(arguments | change))  # type: ignore[arg-type]


def test_sds_out_of_range_are_refused() -> None:
    model = mixed_model([1.0, 2.0, 4.0], np.ones((3, 1)), [FixedBlock("a", [0])])
    for bad in ([1.0, 1.0], [-1.0], [np.nan], [0.0]):
        with pytest.raises(ValueError, match=r"standard deviation|sds"):
            criterion(model, bad)
    with pytest.raises(ValueError, match="log-normal"):
        LogNormalPrior(0.0, 1.0)
