"""A calibration to and from JSON: numbers, names and lists only, nothing is ever executed on loading."""

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final

import numpy as np

from plaitlog.models.calibration.calibrated import Calibration, ObjectiveSums
from plaitlog.models.calibration.check_sum import agrees, check_sum
from plaitlog.models.calibration.features import FEATURES
from plaitlog.models.calibration.observations import Suspect
from plaitlog.models.calibration.packed import Array
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.terms import COMPONENTS, KNOWN_SD
from plaitlog.models.errors import ArtifactError, Finding
from plaitlog.models.whip import UNSTATED_CONDITION

FORMAT: Final = 1
TERMS: Final = (*KNOWN_SD, *COMPONENTS)
OTHER_VERSION: Final = "fit-of-another-version"


def to_json(calibration: Calibration) -> dict[str, Any]:
    """Plain JSON values; symmetric matrices as rows of their lower triangle."""
    objective = calibration.objective
    sums = None
    if objective is not None:
        sums = {
            "matrix": _lower(objective.matrix),
            "right": objective.right.tolist(),
            "constant": objective.constant,
            "value": objective.reevaluated() if objective.value is None else objective.value,
        }
    return {
        "format": FORMAT,
        "code_version": calibration.code_version,
        "fingerprint": calibration.fingerprint,
        "parameters": dict(calibration.parameters),
        "features": list(FEATURES),
        "terms": list(TERMS),
        "keyed": list(calibration.keyed),
        "centres": calibration.centres.tolist(),
        "coefficients": calibration.coefficients.tolist(),
        "covariance": _lower(calibration.covariance),
        "variances": dict(calibration.variances),
        "ranges": [[_finite(x) for x in row] for row in calibration.ranges.tolist()],
        "cords": dict(calibration.cords),
        "makers": dict(calibration.makers),
        "readings": calibration.readings,
        "whips": calibration.whips,
        "noise": calibration.noise,
        "scale_known": calibration.scale_known,
        "scale_new": calibration.scale_new,
        "scale_maker": calibration.scale_maker,
        "scale_rest": calibration.scale_rest,
        "condition": calibration.condition,
        "method": calibration.method,
        "findings": [asdict(finding) for finding in calibration.findings],
        "suspects": [asdict(suspect) for suspect in calibration.suspects],
        "objective": sums,
        "probe": _probe(calibration),
    }


def from_json(stored: Mapping[str, Any]) -> Calibration:
    """The calibration that ``to_json`` wrote.

    Raises
    ------
    ArtifactError
        Where something is missing or not a finite number, or where the objective, worked out again from
        its sums, or the check sum of the coefficients differs by more than 1e-8 of its size.
    """
    try:
        looked_at = list(stored.get("features", FEATURES)), list(stored.get("terms", ()))
        if looked_at != (list(FEATURES), list(TERMS)):
            raise _other_version()
        calibration = _read(stored)
        probe = float(stored["probe"])
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        raise _refused(f"it cannot be read ({type(error).__name__}: {error})") from error
    if len(calibration.columns.names) != len(calibration.coefficients):
        raise _other_version()
    _agree("its coefficients", _probe(calibration), probe)
    if calibration.objective is not None:
        try:
            again = calibration.objective.reevaluated()
        except np.linalg.LinAlgError as error:
            raise _refused("its objective cannot be worked out again") from error
        _agree("its objective", again, float(stored["objective"]["value"]))
    return calibration


def _other_version() -> ArtifactError:
    text = "another version, which looked at other features of a plait, made the stored fit"
    return ArtifactError(Finding(OTHER_VERSION, text, "fit again"))


def _read(stored: Mapping[str, Any]) -> Calibration:
    if stored["format"] != FORMAT:
        raise ValueError(f"format {stored['format']!r}")
    parameters = Parameters(**stored["parameters"])
    sums = stored["objective"]
    coefficients = _numbers(stored["coefficients"])
    covariance = _symmetric(stored["covariance"])
    if covariance.shape != (len(coefficients), len(coefficients)):
        raise ValueError("coefficients and covariance do not belong together")
    objective = None
    if sums is not None:
        objective = ObjectiveSums(
            matrix=_symmetric(sums["matrix"]),
            right=_numbers(sums["right"]),
            constant=float(sums["constant"]),
            value=float(sums["value"]),
        )
    low, high = stored["ranges"]
    return Calibration(
        parameters=parameters.get_params(),
        keyed=tuple(map(str, stored["keyed"])),
        centres=_numbers(stored["centres"]).reshape(-1, 6),
        coefficients=coefficients,
        covariance=covariance,
        variances={str(name): float(value) for name, value in stored["variances"].items()},
        ranges=np.array(
            [
                [-math.inf if x is None else float(x) for x in low],
                [math.inf if x is None else float(x) for x in high],
            ]
        ),
        cords={str(name): int(count) for name, count in stored["cords"].items()},
        makers={str(name): int(count) for name, count in stored["makers"].items()},
        readings=int(stored["readings"]),
        whips=int(stored["whips"]),
        noise=float(stored["noise"]),
        scale_known=float(stored["scale_known"]),
        scale_new=float(stored["scale_new"]),
        scale_maker=float(stored.get("scale_maker", 1.0)),
        scale_rest=float(stored.get("scale_rest", 1.0)),
        condition=str(stored.get("condition", UNSTATED_CONDITION)),
        method=str(stored.get("method", "caliper")),
        findings=tuple(Finding(**finding) for finding in stored["findings"]),
        suspects=tuple(Suspect(**suspect) for suspect in stored["suspects"]),
        objective=objective,
        fingerprint=str(stored["fingerprint"]),
        code_version=str(stored["code_version"]),
    )


def _lower(matrix: Array) -> list[list[float]]:
    return [row[: k + 1] for k, row in enumerate(matrix.tolist())]


def _symmetric(rows: list[list[float]]) -> Array:
    matrix = np.zeros((len(rows), len(rows)))
    for k, row in enumerate(rows):
        matrix[k, : k + 1] = _numbers(row)
    return matrix + np.tril(matrix, -1).T


def _numbers(values: Any) -> Array:
    numbers = np.array(values, dtype=np.float64)
    if not np.isfinite(numbers).all():
        raise ValueError("a number is not finite")
    return numbers


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _probe(calibration: Calibration) -> float:
    """One number that moves with every coefficient, covariance and variance, for a check after loading."""
    parts = [
        calibration.coefficients,
        np.tril(calibration.covariance),
        calibration.centres,
        np.array([calibration.variances[name] for name in sorted(calibration.variances)]),
        np.array([calibration.noise, calibration.scale_known, calibration.scale_new]),
        # Zero where not corrected: fits that were stored without these keep their sum.
        np.array([calibration.scale_maker - 1, calibration.scale_rest - 1]),
    ]
    return check_sum(parts)


def _agree(what: str, found: float, stored: float) -> None:
    if not agrees(found, stored):
        raise _refused(f"{what} comes out as {found!r}, stored is {stored!r}")


def _refused(text: str) -> ArtifactError:
    return ArtifactError(Finding("fit-not-reproduced", f"the stored fit is refused: {text}", "fit again"))
