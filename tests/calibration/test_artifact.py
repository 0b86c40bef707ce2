"""A calibration survives JSON unchanged; one that was tampered with is refused."""

import copy
import json
from typing import Any

import pytest

from plaitlog.models.calibration.artifact import from_json, to_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.diameter import DiameterModel
from plaitlog.models.calibration.prediction import predict, prior_calibration
from plaitlog.models.errors import ArtifactError
from tests.calibration.laid_whips import asked, whips

READINGS = whips(12, {"Ridge": 0.1}, seed=2)


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return DiameterModel().fit(READINGS).calibration_


@pytest.fixture
def stored(calibration: Calibration) -> dict[str, Any]:
    return copy.deepcopy(to_json(calibration))


def test_a_round_trip_predicts_identically(calibration: Calibration) -> None:
    again = from_json(json.loads(json.dumps(to_json(calibration), allow_nan=False)))
    queries = [asked(o) for o in READINGS] + [asked(READINGS[9], tuple(READINGS[:5]))]
    for found, before in zip(predict(again, queries), predict(calibration, queries), strict=True):
        # The order of a sum may differ with where an array lies in memory: the last figures of a double.
        assert found.diameter_mm == pytest.approx(before.diameter_mm, rel=1e-13)
        assert found.high_90_mm == pytest.approx(before.high_90_mm, rel=1e-12)
        assert found.findings == before.findings
    assert to_json(again) == to_json(calibration)


def test_the_priors_can_be_stored_too() -> None:
    prior = prior_calibration(gamma=0.4)
    again = from_json(json.loads(json.dumps(to_json(prior), allow_nan=False)))
    found, before = (predict(c, [asked(READINGS[0])])[0] for c in (again, prior))
    assert found.diameter_mm == pytest.approx(before.diameter_mm, rel=1e-13)
    assert found.sd_log == pytest.approx(before.sd_log, rel=1e-12)


def test_the_same_readings_give_the_same_text(calibration: Calibration) -> None:
    again = DiameterModel().fit(READINGS).calibration_
    assert json.dumps(to_json(again)) == json.dumps(to_json(calibration))


def test_the_objective_is_worked_out_again(calibration: Calibration) -> None:
    assert calibration.objective is not None
    assert calibration.objective.reevaluated() == pytest.approx(calibration.objective.value, rel=1e-10)


@pytest.mark.parametrize(
    ("path", "change"),
    [
        (("objective", "value"), 1e-6),
        (("objective", "constant"), 1e-6),
        (("objective", "right", 3), 1e-3),
        (("objective", "matrix", 5, 5), 1e-3),
        (("coefficients", 2), 1e-5),
        (("covariance", 4, 4), 1e-5),
        (("variances", "whip"), 1e-5),
        (("centres", 0, 1), 1e-5),
        (("scale_new",), 1e-5),
    ],
)
def test_a_number_that_was_changed_is_noticed(
    stored: dict[str, Any], path: tuple[Any, ...], change: float
) -> None:
    place: Any = stored
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] += change * max(1.0, abs(place[path[-1]]))
    with pytest.raises(ArtifactError, match="refused"):
        from_json(stored)


@pytest.mark.parametrize("key", ["format", "coefficients", "objective", "parameters", "probe", "ranges"])
def test_a_missing_part_is_refused(stored: dict[str, Any], key: str) -> None:
    del stored[key]
    with pytest.raises(ArtifactError, match="cannot be read"):
        from_json(stored)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("format", 2),
        ("coefficients", [1.0]),
        ("coefficients", ["import os"]),
        ("covariance", [[float("nan")]]),
        ("parameters", {"no_such": 1.0}),
        ("objective", {"matrix": [[-1.0]], "right": [1.0], "constant": 0.0, "value": 0.0}),
    ],
)
def test_nonsense_is_refused(stored: dict[str, Any], key: str, value: Any) -> None:
    stored[key] = value
    with pytest.raises(ArtifactError, match="refused"):
        from_json(stored)


def test_a_fit_with_other_features_is_refused_with_what_to_do(stored: dict[str, Any]) -> None:
    stored["features"] = [*stored["features"][:-1], "another"]
    with pytest.raises(ArtifactError, match=r"another version.*fit again"):
        from_json(stored)


def test_a_fit_of_an_older_version_with_fewer_features_is_refused(stored: dict[str, Any]) -> None:
    del stored["features"]
    stored["coefficients"] = stored["coefficients"][1:]
    stored["covariance"] = [row[1:] for row in stored["covariance"][1:]]
    with pytest.raises(ArtifactError, match=r"another version.*fit again"):
        from_json(stored)
