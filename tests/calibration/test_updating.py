"""A whip added by an update tells the calibration what a refit would."""

import json
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.artifact import from_json, to_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.design import Columns
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.full_pass import Point, added, full_pass
from plaitlog.models.calibration.linearised import blocks_of
from plaitlog.models.calibration.prediction import predict, prior_calibration
from plaitlog.models.calibration.readings import readings
from plaitlog.models.calibration.reduced import objective_of, reduced_model, solve
from plaitlog.models.calibration.updating import updated
from plaitlog.models.errors import ArtifactError
from tests.calibration.laid_whips import asked, whips

EFFECTS = {"Ridge": 0.08, "Fell": -0.05, "Tarn": 0.03, "Scar": -0.02, "Beck": 0.06, "Moor": -0.07}
WHIPS = whips(40, EFFECTS, seed=5)
FEW = whips(40, EFFECTS, seed=5, names=("Ridge", "Fell", "Tarn", "Scar"))
MORE = whips(1, EFFECTS, seed=77, label="more")
NEW_CORD = whips(1, EFFECTS, seed=9, names=("Beck",), label="new")


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return DiameterModel().fit(WHIPS).calibration_


def test_in_the_linear_case_it_is_the_solution_of_the_sums_of_both(calibration: Calibration) -> None:
    parameters = calibration.model_parameters
    smooth = calibration.columns.smooth
    names = calibration.columns.names
    sds = {name: variance**0.5 for name, variance in calibration.variances.items()}
    point = Point(dict(zip(names, calibration.coefficients.tolist(), strict=True)), smooth, sds)

    def solved(sums: object) -> Calibration:
        model = reduced_model(sums, blocks_of(Columns(sums.keyed, smooth), parameters))
        found = solve(model, np.log([sds[name] for name in model.names]))
        return replace(
            calibration,
            keyed=sums.keyed,
            coefficients=found.coefficients,
            covariance=found.covariance,
            objective=objective_of(model, found),
        )

    before = full_pass(readings(WHIPS), point, parameters).sums
    start = solved(before)
    there = replace(point, coefficients=dict(zip(start.columns.names, start.coefficients, strict=True)))
    both = solved(added([before, full_pass(readings(MORE), there, parameters).sums]))
    found = updated(start, MORE, rounds=1)
    assert found.keyed == both.keyed
    assert found.coefficients == pytest.approx(both.coefficients, abs=1e-9)
    assert found.covariance == pytest.approx(both.covariance, abs=1e-10)
    assert found.objective.reevaluated() == pytest.approx(both.objective.value, rel=1e-9)


def test_predictions_are_those_of_a_refit(calibration: Calibration) -> None:
    queries = [asked(x) for x in WHIPS[::7]]
    refit = DiameterModel().fit([*WHIPS, *MORE]).calibration_
    found = updated(calibration, MORE)
    assert (found.readings, found.whips) == (refit.readings, refit.whips)
    assert found.cords == refit.cords
    assert found.makers == refit.makers
    for one, other in zip(predict(found, queries), predict(refit, queries), strict=True):
        assert np.log(one.diameter_mm / other.diameter_mm) == pytest.approx(0, abs=0.1 * other.sd_log)
        # A refit estimates the spread of pulls anew, which one whip in 41 moves by some per cent.
        assert one.sd_log == pytest.approx(other.sd_log, rel=0.1)


def test_a_new_cord_is_learnt_from_its_first_whip() -> None:
    calibration = DiameterModel().fit(FEW).calibration_
    queries = [asked(x) for x in whips(1, EFFECTS, seed=10, names=("Beck",), label="asked")]
    found = updated(calibration, NEW_CORD)
    refit = DiameterModel().fit([*FEW, *NEW_CORD]).calibration_
    told = [predict(one, queries) for one in (calibration, found, refit)]
    for before, after, again in zip(*told, strict=True):
        assert before.new_cord
        assert not after.new_cord
        assert after.sd_log < 0.9 * before.sd_log
        assert np.log(after.diameter_mm / again.diameter_mm) == pytest.approx(0, abs=0.3 * again.sd_log)


def test_it_is_stored_and_checked_like_any_fit(calibration: Calibration) -> None:
    found = updated(updated(calibration, MORE), NEW_CORD)
    stored = json.loads(json.dumps(to_json(found)))
    assert from_json(stored).objective.value == found.objective.reevaluated()
    assert [x.code for x in from_json(stored).findings].count("updated") == 1
    stored["objective"]["constant"] += 1e-4 * abs(found.objective.reevaluated())
    with pytest.raises(ArtifactError):
        from_json(stored)


def test_the_first_whip_of_all() -> None:
    first = updated(prior_calibration(), MORE)
    queries = [asked(x) for x in MORE]
    before, after = predict(prior_calibration(), queries), predict(first, queries)
    assert all(b.sd_log < a.sd_log for a, b in zip(before, after, strict=True))
    assert first.objective is None


def test_nothing_new_changes_nothing(calibration: Calibration) -> None:
    assert updated(calibration, []) is calibration
