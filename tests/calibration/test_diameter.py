"""The diameter model finds what was planted, and nothing that was done wrong passes silently."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from sklearn.base import clone

from plaitlog.models.calibration.diameter import DiameterModel, normal_variance
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.prediction import predict, prior_calibration
from plaitlog.models.errors import FitError
from plaitlog.models.geometry import geometric_diameter
from plaitlog.models.stack import Stack
from plaitlog.models.whip import Span
from tests.calibration.laid_whips import CORDS, asked, laid, true_mm, whips

EFFECTS = {"Ridge": 0.10, "Fell": -0.08, "Tarn": 0.02, "Scar": 0.12, "Beck": -0.12, "Moor": -0.04}


@pytest.fixture(scope="module")
def readings() -> list[Observation]:
    return whips(40, EFFECTS, seed=3)


@pytest.fixture(scope="module")
def model(readings: list[Observation]) -> DiameterModel:
    return DiameterModel().fit(readings)


def log_errors(model: DiameterModel, held: list[Observation], effects: dict[str, float]) -> np.ndarray:
    truth = true_mm([o.stack for o in held], effects)
    found = model.predict([asked(o) for o in held])
    return np.log([p.diameter_mm for p in found]) - np.log(truth)


def test_known_cord_effects_come_back(model: DiameterModel) -> None:
    """Each cord alone, as an overlay of 12 over a body of 10 mm: within what 40 whips of 3 % can tell."""
    for name, cord in CORDS.items():
        stack = Stack((laid("overlay", cord, 12, 1),), 10.0)
        truth = true_mm([stack], EFFECTS)[0]
        geometry = geometric_diameter(stack).diameter_mm
        found = model.predict([asked(Observation(stack=stack, diameter_mm=1.0, whip="", maker="Orrin"))])[0]
        assert abs(np.log(found.diameter_mm / truth)) < 0.02, name
        assert abs(np.log(found.diameter_mm / truth)) < abs(np.log(geometry / truth)) + 0.02


def test_whips_not_seen_are_predicted_to_the_truth(model: DiameterModel) -> None:
    held = whips(30, EFFECTS, seed=4)
    errors = log_errors(model, held, EFFECTS)
    # 40 whips of 3 % leave 0.5 % on their mean; cords and layers are learnt beside it.
    assert np.sqrt(np.mean(errors**2)) < 0.012


def test_intervals_cover_what_they_say(model: DiameterModel) -> None:
    held = whips(60, EFFECTS, seed=5)
    found = model.predict([asked(o) for o in held])
    in_90 = np.mean([p.low_90_mm <= o.diameter_mm <= p.high_90_mm for o, p in zip(held, found, strict=True)])
    in_50 = np.mean([p.low_50_mm <= o.diameter_mm <= p.high_50_mm for o, p in zip(held, found, strict=True)])
    assert 0.84 < in_90 < 0.96
    assert 0.40 < in_50 < 0.62


def test_variance_components_come_back(model: DiameterModel) -> None:
    variances = model.calibration_.variances
    assert 0.020 < variances["whip"] ** 0.5 < 0.040
    assert 0.010 < (variances["residual"] * model.calibration_.noise) ** 0.5 < 0.014
    # No cord is pressed here: what that would tell counts to the difference between cords.
    assert 0.05 < (variances["cord"] + model.sd_unpressed**2) ** 0.5 < 0.16


def test_a_mistyped_reading_is_flagged_and_does_not_move_the_fit(
    readings: list[Observation], model: DiameterModel
) -> None:
    wrong = list(readings)
    wrong[100] = replace(wrong[100], diameter_mm=wrong[100].diameter_mm * 2)
    moved = DiameterModel().fit(wrong)
    queries = [asked(o) for o in whips(10, EFFECTS, seed=6)]
    before, after = model.predict(queries), moved.predict(queries)
    shift = np.log([p.diameter_mm for p in after]) - np.log([p.diameter_mm for p in before])
    # What a reading twice too large does stays lost in what a prediction does not know anyway.
    assert np.abs(shift / [p.sd_log for p in before]).max() < 0.2
    worst = max(moved.calibration_.suspects, key=lambda s: abs(s.residual_log))
    assert worst.index == 100
    assert worst.fitting_mm == pytest.approx(readings[100].diameter_mm, rel=0.05)
    assert worst.weight < 0.01
    assert 100 not in [s.index for s in model.calibration_.suspects]


def test_a_doubtful_reading_pulls_less() -> None:
    whole = whips(3, EFFECTS, seed=7)
    biased = [replace(o, diameter_mm=o.diameter_mm * 1.06) if o.whip == "whip 2" else o for o in whole]
    doubted = [replace(o, doubtful=o.whip == "whip 2") for o in biased]
    query = [asked(whole[-1])]
    sizes = [DiameterModel().fit(x).predict(query)[0].diameter_mm for x in (whole, doubted, biased)]
    assert sizes[0] < sizes[1] < sizes[2]


def test_makers_are_told_apart_and_a_new_one_widens_the_interval() -> None:
    fitted = DiameterModel().fit(whips(40, EFFECTS, seed=8, makers={"Orrin": 0.04, "Tamsin": -0.04}))
    one = whips(1, EFFECTS, seed=9)[0]
    orrin, tamsin, wystan = fitted.predict(
        [replace(asked(one), maker=m) for m in ("Orrin", "Tamsin", "Wystan")]
    )
    assert np.log(orrin.diameter_mm / tamsin.diameter_mm) == pytest.approx(0.08, abs=0.025)
    assert wystan.sd_log > 1.1 * orrin.sd_log
    assert "new-maker" in [f.code for f in wystan.findings]
    assert "new-maker" not in [f.code for f in orrin.findings]


def test_a_condition_shifts_its_readings() -> None:
    readings = whips(30, EFFECTS, seed=10)
    fresh = [
        replace(o, condition="fresh", diameter_mm=o.diameter_mm * 1.03) if int(o.whip[5:]) % 2 else o
        for o in readings
    ]
    fitted = DiameterModel().fit(fresh)
    rolled, damp = fitted.predict([replace(asked(readings[0]), condition=c) for c in (None, "fresh")])
    assert np.log(damp.diameter_mm / rolled.diameter_mm) == pytest.approx(0.03, abs=0.012)
    stated = fitted.predict([replace(asked(readings[0]), condition="rolled")])[0]
    assert stated.diameter_mm == pytest.approx(rolled.diameter_mm, rel=1e-12)
    assert stated.sd_log == pytest.approx(rolled.sd_log, rel=1e-9)


def test_a_cord_never_seen_is_predicted_with_its_own_spread(model: DiameterModel) -> None:
    new = replace(CORDS["Tarn"], name="Never seen")
    known, unknown = (
        model.predict(
            [
                asked(
                    Observation(
                        stack=Stack((laid("overlay", c, 12, 1),), 8.0), diameter_mm=1, whip="", maker="Orrin"
                    )
                )
            ]
        )[0]
        for c in (CORDS["Tarn"], new)
    )
    assert unknown.new_cord
    assert not known.new_cord
    assert "new-cord" in [f.code for f in unknown.findings]
    assert unknown.sd_log > known.sd_log
    assert abs(np.log(unknown.diameter_mm / known.diameter_mm)) < 2 * unknown.sd_log


def test_a_count_given_as_a_range_widens_the_interval(model: DiameterModel) -> None:
    def of(count: Span) -> Any:
        layer = laid("overlay", CORDS["Ridge"], 14, 1)
        layer = replace(layer, groups=(replace(layer.groups[0], count=count),))
        return model.predict([asked(Observation(stack=Stack((layer,), 8.0), diameter_mm=1, whip=""))])[0]

    sure, ranged = of(Span(14, 14)), of(Span(10, 18))
    assert ranged.diameter_mm == pytest.approx(sure.diameter_mm)
    assert ranged.sd_log > sure.sd_log
    assert "count-range" in [f.code for f in ranged.findings]


def test_fit_does_not_change_its_input_and_repeats(readings: list[Observation], model: DiameterModel) -> None:
    before = list(readings)
    again = DiameterModel().fit(readings)
    assert readings == before
    assert (again.calibration_.coefficients == model.calibration_.coefficients).all()
    assert again.calibration_.fingerprint == model.calibration_.fingerprint
    model_two = DiameterModel().fit(readings[:130])
    model_two.fit(readings)
    assert (model_two.calibration_.coefficients == model.calibration_.coefficients).all()


def test_the_fingerprint_moves_with_any_reading(readings: list[Observation], model: DiameterModel) -> None:
    changed = [replace(readings[0], diameter_mm=readings[0].diameter_mm + 0.01), *readings[1:]]
    assert DiameterModel().fit(changed).calibration_.fingerprint != model.calibration_.fingerprint


def test_parameters_follow_the_estimator_convention() -> None:
    model = DiameterModel(gamma=0.4)
    assert model.get_params()["gamma"] == 0.4
    assert clone(model).get_params() == model.get_params()
    assert model.set_params(gamma=0.6) is model
    assert model.gamma == 0.6
    with pytest.raises(ValueError, match="no such parameter: gama"):
        model.set_params(gama=0.6)
    with pytest.raises(TypeError):
        DiameterModel(0.4)  # type: ignore[misc]


def test_a_warm_start_ends_where_a_cold_one_does(readings: list[Observation], model: DiameterModel) -> None:
    fold = [o for o in readings if o.whip != "whip 7"]
    cold = DiameterModel().fit(fold)
    warm = DiameterModel().fit(fold, start=model.calibration_)
    queries = [asked(o) for o in readings]
    shift = np.log([p.diameter_mm for p in cold.predict(queries)])
    shift -= np.log([p.diameter_mm for p in warm.predict(queries)])
    assert np.abs(shift).max() < 0.004


@pytest.mark.parametrize("size", [float("nan"), float("inf"), 0.0, -3.0])
def test_a_reading_that_is_no_size_is_refused(size: float) -> None:
    readings = whips(1, EFFECTS, seed=1)
    readings[4] = replace(readings[4], diameter_mm=size)
    with pytest.raises(FitError, match="whip 0 at 600 mm"):
        DiameterModel().fit(readings)


def test_little_data_says_what_it_rests_on() -> None:
    few = DiameterModel().fit(whips(2, EFFECTS, seed=1)).calibration_
    assert [f.code for f in few.findings] == ["little-data"]
    assert "26 readings of 2 whips" in few.findings[0].text


def test_without_readings_the_priors_answer() -> None:
    assert DiameterModel().fit([]).calibration_.findings[0].code == "no-fit"
    stacks = [o.stack for o in whips(5, {}, seed=1)]
    found = predict(prior_calibration(), [asked(o) for o in whips(5, {}, seed=1)])
    for stack, prediction in zip(stacks, found, strict=True):
        assert prediction.low_50_mm < geometric_diameter(stack).diameter_mm < prediction.high_50_mm
        assert prediction.sd_log > 0.08
        assert prediction.new_cord
        assert "no-fit" in [f.code for f in prediction.findings]


def test_learning_narrows(model: DiameterModel, readings: list[Observation]) -> None:
    query = [asked(readings[0])]
    none = predict(prior_calibration(), query)[0].sd_log
    few = DiameterModel().fit(readings[: 13 * 4]).predict(query)[0].sd_log
    many = model.predict(query)[0].sd_log
    assert many < few < none


def test_the_robust_scale_of_normal_readings() -> None:
    rng = np.random.default_rng(1)
    r = rng.normal(size=400_000)
    scale = 1 / np.sqrt(normal_variance(6.0))
    assert np.mean(7 * r**2 / (6 * scale**2 + r**2)) == pytest.approx(1.0, abs=0.01)
