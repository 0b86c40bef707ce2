"""Sums of a pass are those of dense formulas; a sample and a pass agree with the whole iteration."""

import numpy as np
import pytest

from plaitlog.models.calibration import learning
from plaitlog.models.calibration.calibrated import SLOTS
from plaitlog.models.calibration.design import Columns, Designer
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.full_pass import ROUNDS, Point, added, full_pass, whip_sds
from plaitlog.models.calibration.linearised import blocks_of
from plaitlog.models.calibration.packed import pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.readings import Readings, readings
from plaitlog.models.calibration.reduced import mode_of, objective_of, reduced_model, solve
from plaitlog.models.calibration.terms import both_terms, layer_terms, row_terms
from plaitlog.models.calibration.whip_effects import count_variance, whip_columns
from tests.calibration.laid_whips import whips

EFFECTS = {"Ridge": 0.08, "Fell": -0.05, "Tarn": 0.03, "Scar": -0.02, "Beck": 0.06, "Moor": -0.07}


@pytest.fixture(scope="module")
def data() -> Readings:
    return readings(whips(60, EFFECTS, seed=5))


@pytest.fixture(scope="module")
def model(data: Readings) -> DiameterModel:
    return DiameterModel().fit(data)


def point_of(model: DiameterModel) -> Point:
    calibration = model.calibration_
    names = calibration.columns.names
    sds = {name: variance**0.5 for name, variance in calibration.variances.items()}
    return Point(
        dict(zip(names, calibration.coefficients.tolist(), strict=True)), calibration.columns.smooth, sds
    )


def test_every_column_is_a_derivative_of_log_diameter(data: Readings, model: DiameterModel) -> None:
    few = data.of_whips(np.arange(6))
    packed = pack(few.stacks, model.geometry)
    columns = model.calibration_.columns
    designer = Designer(packed, both_terms(layer_terms(packed), row_terms(few)), columns, model)
    coefficients = model.calibration_.coefficients
    rows = designer.at(coefficients, rounds=30).rows
    for k, name in enumerate(columns.names):
        if name.startswith("maker:"):  # acts on log D itself, not through a layer
            continue
        step = np.zeros(len(coefficients))
        step[k] = 1e-5
        high, low = (designer.at(coefficients + sign * step, rounds=30).resolved for sign in (1, -1))
        assert rows[:, k] == pytest.approx(np.log(high.diameter / low.diameter) / 2e-5, abs=1e-7), name


def test_sums_are_those_of_the_dense_formulas(data: Readings, model: DiameterModel) -> None:
    few = data.of_whips(np.arange(3, 9))
    point = point_of(model)
    passed = full_pass(few, point, model)
    packed = pack(few.stacks, model.geometry)
    columns = Columns(passed.sums.keyed, point.smooth)
    designer = Designer(packed, both_terms(layer_terms(packed), row_terms(few)), columns, model)
    at = np.array([point.coefficients.get(name, 0.0) for name in columns.names])
    design = designer.at(at, rounds=ROUNDS)
    known = (model.caliper_mm / design.resolved.diameter) ** 2 + count_variance(packed, design, model.gamma)
    noise = (point.sds["residual"] ** 2 + known) / passed.weights
    own = whip_columns(packed, design, few.at_mm, SLOTS) * whip_sds(point.sds)
    same_whip = few.whip[:, None] == few.whip
    variance = np.diag(noise) + same_whip * (own @ own.T)
    response = np.log(few.diameter_mm) - design.working
    solved = np.linalg.solve(variance, np.column_stack([design.rows, response]))
    assert passed.sums.matrix == pytest.approx(design.rows.T @ solved[:, :-1], rel=1e-9, abs=1e-6)
    assert passed.sums.right == pytest.approx(design.rows.T @ solved[:, -1], rel=1e-9, abs=1e-6)
    determinant = np.linalg.slogdet(variance)[1]
    constant = response @ solved[:, -1] + determinant + len(few) * np.log(2 * np.pi)
    assert passed.sums.constant == pytest.approx(constant, rel=1e-9)


def test_parts_add_up(data: Readings, model: DiameterModel) -> None:
    point = point_of(model)
    whole = full_pass(data, point, model).sums
    parts = [full_pass(data.of_whips(part), point, model).sums for part in np.array_split(np.arange(60), 7)]
    together = added(parts)
    assert together.keyed == whole.keyed
    assert together.matrix == pytest.approx(whole.matrix, rel=1e-9, abs=1e-6)
    assert together.right == pytest.approx(whole.right, rel=1e-9, abs=1e-6)
    assert together.constant == pytest.approx(whole.constant)


def test_the_gradient_between_cords_is_the_difference(data: Readings, model: DiameterModel) -> None:
    point = point_of(model)
    sums = full_pass(data, point, model).sums
    reduced = reduced_model(sums, blocks_of(Columns(sums.keyed, point.smooth), model))
    at = np.log([point.sds[name] for name in reduced.names]) + 0.2
    found = solve(reduced, at)
    for k in range(len(at)):
        step = np.zeros(len(at))
        step[k] = 1e-4
        difference = (solve(reduced, at + step).value - solve(reduced, at - step).value) / 2e-4
        assert found.gradient[k] == pytest.approx(difference, abs=1e-5)
    best = mode_of(reduced, point.sds)
    assert np.abs(solve(reduced, best).gradient).max() < 0.01
    objective = objective_of(reduced, found)
    assert objective.reevaluated() == pytest.approx(found.value, rel=1e-12)


@pytest.mark.parametrize(
    ("count", "settling", "standard_errors", "of_log_diameter"),
    [(300, learning.SETTLING, 0.1, 3e-4), (920, 3_000, 0.4, 1e-3)],
    ids=["all settle", "a quarter of 12,000 readings settles"],
)
def test_a_sample_and_a_pass_agree_with_the_whole_iteration(
    monkeypatch: pytest.MonkeyPatch,
    count: int,
    settling: int,
    standard_errors: float,
    of_log_diameter: float,
) -> None:
    monkeypatch.setattr(learning, "SETTLING", settling)
    data = readings(whips(count, EFFECTS, seed=8))
    whole, passed = (
        learn(data, Parameters(), None) for learn in (learning.learn_all, learning.learn_at_scale)
    )
    assert passed.columns.keyed == whole.columns.keyed
    packed = pack(data.stacks, Parameters().geometry)
    expected, spread = [], []
    for learnt in (whole, passed):
        terms = both_terms(layer_terms(packed), row_terms(data))
        design = Designer(packed, terms, learnt.columns, Parameters()).at(learnt.coefficients, rounds=5)
        expected.append(design.working + design.rows @ learnt.coefficients)
        spread.append(np.sqrt(np.einsum("ij,jk,ik->i", design.rows, learnt.covariance, design.rows)))
    off = expected[1] - expected[0]
    assert np.sqrt(np.mean(off**2)) < of_log_diameter
    # Fits to two lots of whips of one hand would differ by 1.4 standard errors.
    assert np.sqrt(np.mean((off / spread[0]) ** 2)) < standard_errors
    assert np.median(spread[1] / spread[0]) == pytest.approx(1, abs=0.1)
    for name in ("residual", "whip"):
        assert passed.variances[name] == pytest.approx(whole.variances[name], rel=0.1)
