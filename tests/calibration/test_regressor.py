"""The mixed regressor as a scikit-learn estimator, and as what it says it fits."""

import json
import os
import subprocess
import sys
from typing import Any

import numpy as np
import pytest
from sklearn.base import clone
from sklearn.linear_model import LinearRegression
from sklearn.model_selection import cross_val_score
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler
from sklearn.utils.estimator_checks import check_estimator

from plaitlog.models.calibration.mixed.regressor import MixedRegressor

PROGRAM = """
import json, warnings
warnings.simplefilter("error")
from sklearn.utils.estimator_checks import check_estimator
from plaitlog.models.calibration.mixed.regressor import MixedRegressor
results = check_estimator(MixedRegressor(), on_fail=None, on_skip=None)
print(json.dumps([(result["check_name"], result["status"]) for result in results]))
"""


def test_every_check_of_scikit_learn() -> None:
    """Default tags, none expected to fail, warnings as errors, in a process where none is skipped."""
    run = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        env=os.environ | {"SCIPY_ARRAY_API": "1"}, check=True, capture_output=True, text=True,
    )  # fmt: skip
    results = json.loads(run.stdout)
    assert [name for name, status in results if status != "passed"] == []
    assert len(results) > 50


@pytest.mark.parametrize(
    "parameters",
    [
        {"criterion": "ml"},
        {"fit_intercept": False},
        {"blocks": {}},
        {"blocks": {}, "fit_intercept": False},
        {"draws": 16},
        {"sd_priors": {"columns": (1.0, 1.0), "residual": (1.0, 1.0)}},
    ],
)
def test_other_parameters_pass_the_checks_too(parameters: dict[str, Any]) -> None:
    check_estimator(MixedRegressor(**parameters), on_skip=None)


def test_parameters_are_stored_as_given() -> None:
    blocks = {"cord": [0, 1]}
    regressor = MixedRegressor(blocks=blocks, groups_column=3, group_slopes=(2,), draws=4)
    assert regressor.get_params()["blocks"] is blocks
    assert clone(regressor).get_params() == regressor.get_params()
    with pytest.raises(TypeError):
        MixedRegressor(blocks)  # type: ignore[misc]


def workshop(seed: int = 0, rows: int = 90) -> tuple[np.ndarray, np.ndarray]:
    """Columns: one covariate, dummies of five cords, whip number; two whips apart from zero by label only."""
    rng = np.random.default_rng(seed)
    cords, whips = rng.integers(0, 5, rows), rng.integers(0, 12, rows)
    x = rng.normal(size=rows)
    y = 3 + 2 * x + rng.normal(size=5)[cords] + 0.5 * rng.normal(size=12)[whips] + 0.1 * rng.normal(size=rows)
    return np.column_stack([x, np.eye(5)[cords], 10.0 * whips - 7.5]), y


def test_blocks_and_groups() -> None:
    X, y = workshop()
    regressor = MixedRegressor(blocks={"cord": range(1, 6)}, groups_column=6).fit(X, y)
    assert list(regressor.standard_deviations_) == ["residual", "cord", "group"]
    assert regressor.sigma_ == regressor.standard_deviations_["residual"] == pytest.approx(0.1, rel=0.3)
    assert regressor.coef_.shape == (7,)
    assert regressor.coef_[0] == pytest.approx(2.0, abs=0.05)
    assert regressor.coef_[6] == 0.0
    assert regressor.group_effects_.shape == (12, 1)
    assert regressor.convergence_.converged
    in_words = X @ regressor.coef_ + regressor.intercept_
    effects = dict(zip(regressor.group_labels_, regressor.group_effects_[:, 0], strict=True))
    assert regressor.predict(X) == pytest.approx(in_words + [effects[label] for label in X[:, 6]])


def test_a_group_never_seen_is_less_certain() -> None:
    X, y = workshop()
    regressor = MixedRegressor(blocks={"cord": range(1, 6)}, groups_column=6).fit(X, y)
    seen, unseen = X[:1].copy(), X[:1].copy()
    unseen[0, 6] = 1e6
    (_, known), (mean, unknown) = regressor.predict(seen, True), regressor.predict(unseen, True)
    assert mean == pytest.approx(unseen[:, :6] @ regressor.coef_[:6] + regressor.intercept_)
    assert unknown > np.hypot(known, 0.8 * regressor.standard_deviations_["group"])


def test_groups_equal_dummies() -> None:
    """A groups column gives what a random block of its dummies gives, slopes included."""
    X, y = workshop(1)
    labels = np.unique(X[:, 6], return_inverse=True)[1]
    dummies = np.eye(labels.max() + 1)[labels]
    explicit = np.hstack([X[:, :1], dummies, dummies * X[:, :1]])
    k = dummies.shape[1]
    wide = MixedRegressor(blocks={"group": range(1, 1 + k), "slope": range(1 + k, 1 + 2 * k)}).fit(
        explicit, y
    )
    narrow = MixedRegressor(blocks={}, groups_column=1, group_slopes=[0]).fit(X[:, [0, 6]], y)
    assert narrow.criterion_ == pytest.approx(wide.criterion_, abs=1e-8)
    assert narrow.predict(X[:, [0, 6]]) == pytest.approx(wide.predict(explicit), abs=1e-6)


def test_no_block_is_least_squares() -> None:
    X, y = workshop()
    ours, theirs = MixedRegressor(blocks={}).fit(X[:, :4], y), LinearRegression().fit(X[:, :4], y)
    assert ours.coef_ == pytest.approx(theirs.coef_, rel=1e-10)
    assert ours.intercept_ == pytest.approx(theirs.intercept_, rel=1e-10)
    without = MixedRegressor(blocks={}, fit_intercept=False).fit(X[:, :4], y)
    assert without.coef_ == pytest.approx(LinearRegression(fit_intercept=False).fit(X[:, :4], y).coef_)
    assert without.intercept_ == 0.0


def test_default_does_not_depend_on_units() -> None:
    """Columns in other units, and scaled by a pipeline: the same predictions and standard deviations."""
    X, y = workshop(2)
    X = X[:, :6]
    plain = MixedRegressor().fit(X, y)
    factors = np.array([1e3, 1e-4, 1.0, 7.0, 25.4, 1e6])
    other = MixedRegressor().fit(X * factors + 5.0, y)
    for got, wanted in zip(other.predict(X * factors + 5.0, True), plain.predict(X, True), strict=True):
        assert got == pytest.approx(wanted, rel=1e-6)
    assert other.coef_ * factors == pytest.approx(plain.coef_, rel=1e-5)
    assert make_pipeline(StandardScaler(), MixedRegressor()).fit(X, y).predict(X) == pytest.approx(
        plain.predict(X)
    )


def test_intercept_and_covariance_belong_to_the_original_columns() -> None:
    X, y = workshop(3)
    regressor = MixedRegressor().fit(X[:, :6], y)
    assert regressor.predict(X[:, :6]) == pytest.approx(X[:, :6] @ regressor.coef_ + regressor.intercept_)
    zero = regressor.predict(np.zeros((1, 6)), True)[1]
    assert zero**2 - regressor.sigma_**2 == pytest.approx([regressor.intercept_variance_], rel=1e-9)


def test_priors() -> None:
    """A tight prior wins over the data, a wide one leaves them alone; sd priors hold their component."""
    X, y = workshop(4)
    tight = MixedRegressor(blocks={}, priors={0: (0.5, 1e-6)}).fit(X[:, :1], y)
    wide = MixedRegressor(blocks={}, priors={0: (0.5, 1e6)}).fit(X[:, :1], y)
    assert tight.coef_ == pytest.approx([0.5], abs=1e-5)
    assert wide.coef_ == pytest.approx(LinearRegression().fit(X[:, :1], y).coef_, rel=1e-6)
    held = MixedRegressor(blocks={"cord": range(1, 6)}, sd_priors={"cord": (0.01, 0.001)}).fit(X[:, :6], y)
    assert held.standard_deviations_["cord"] == pytest.approx(0.01, rel=0.02)


def test_a_random_regression_beats_least_squares_with_many_columns() -> None:
    rng = np.random.default_rng(5)
    X = rng.normal(size=(60, 45))
    y = X @ rng.normal(size=45) * 0.3 + rng.normal(size=60)
    shrunken = cross_val_score(MixedRegressor(), X, y, cv=5).mean()
    assert shrunken > cross_val_score(LinearRegression(), X, y, cv=5).mean() + 0.3


def test_intervals_cover() -> None:
    """90 % of new observations lie within 1.645 standard deviations, as far as chance allows for 2000."""
    rng = np.random.default_rng(6)
    beta, hits = rng.normal(size=8), []
    for _ in range(20):
        X = rng.normal(size=(140, 8))
        y = X @ beta + rng.normal(size=140)
        mean, sd = MixedRegressor().fit(X[:40], y[:40]).predict(X[40:], return_std=True)
        hits.extend(np.abs(y[40:] - mean) < 1.645 * sd)
    assert np.mean(hits) == pytest.approx(0.90, abs=0.03)


@pytest.mark.parametrize(
    ("parameters", "name"),
    [
        ({"blocks": {"a": [0, 9]}}, "blocks"),
        ({"blocks": {"a": [0], "b": [0]}}, "blocks"),
        ({"blocks": {"residual": [0]}}, "blocks"),
        ({"blocks": [0]}, "blocks"),
        ({"blocks": {"a": [0.5]}}, "blocks"),
        ({"fit_intercept": "yes"}, "fit_intercept"),
        ({"criterion": "aic"}, "criterion"),
        ({"blocks": {}, "priors": {0: (0.0, -1.0)}}, "priors"),
        ({"blocks": {"a": [0]}, "priors": {0: (0.0, 1.0)}}, "priors"),
        ({"priors": {0: (0.0, 1.0)}}, "priors"),
        ({"sd_priors": {"whip": (1.0, 1.0)}}, "sd_priors"),
        ({"sd_priors": {"residual": (0.0, 1.0)}}, "sd_priors"),
        ({"groups_column": 7}, "groups_column"),
        ({"blocks": {"a": [0]}, "groups_column": 0}, "groups_column"),
        ({"group_slopes": [1]}, "group_slopes"),
        ({"groups_column": 1, "group_slopes": [1]}, "group_slopes"),
        ({"draws": 3}, "draws"),
        ({"draws": -2}, "draws"),
    ],
)
def test_parameters_out_of_range_are_named(parameters: dict[str, Any], name: str) -> None:
    X, y = np.random.default_rng(0).normal(size=(10, 3)), np.arange(10.0)
    with pytest.raises(ValueError, match=f"^{name} must be"):
        MixedRegressor(**parameters).fit(X, y)


@pytest.mark.parametrize("weight", [[1.0] * 9, [-1.0] * 10, [np.nan] * 10, [0.0] * 10])
def test_weights_out_of_range_are_refused(weight: list[float]) -> None:
    X, y = np.random.default_rng(0).normal(size=(10, 3)), np.arange(10.0)
    with pytest.raises(ValueError, match="sample_weight"):
        MixedRegressor().fit(X, y, sample_weight=weight)


def test_more_columns_than_rows_and_constant_y() -> None:
    rng = np.random.default_rng(7)
    X = rng.normal(size=(12, 40))
    assert np.isfinite(MixedRegressor().fit(X, X[:, 0]).predict(X)).all()
    assert MixedRegressor().fit(X, np.full(12, 4.5)).predict(X) == pytest.approx(np.full(12, 4.5))
