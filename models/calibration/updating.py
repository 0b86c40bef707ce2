"""One more whip into a calibration, without a refit: its sums are added, its posterior follows.

The readings of the new whip, y = R b + whip's own + noise, have a variance V that the calibration's standard
deviations give, so with B B' = R'V^-1 R the covariance C becomes C - C B (I + B'C B)^-1 B'C (Woodbury): a
change of the rank of the readings, whatever the number of whips before.
"""

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from plaitlog.models.calibration.calibrated import Calibration, ObjectiveSums
from plaitlog.models.calibration.carried import about_shared, as_in_fit, lots_in_fit
from plaitlog.models.calibration.features import FEATURES, feature_priors
from plaitlog.models.calibration.full_pass import Sums, lay_out, pass_of
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.one_thread import one_thread
from plaitlog.models.calibration.packed import Array, Index
from plaitlog.models.calibration.prepared import check_sizes, readings_of_cords, readings_of_makers
from plaitlog.models.calibration.readings import Readings, readings
from plaitlog.models.calibration.suspects import suspects_of
from plaitlog.models.errors import Finding

ROUNDS = 3
"""Linearisations: robust weights and features follow the moved coefficients, each from the calibration as it
was; a cord that is new moves most."""
NEGLIGIBLE = 1e-12
"""Share of the largest eigenvalue of R'V^-1 R below which one is rounding."""

UPDATED = Finding(
    "updated",
    "whips were added to the fit one by one; its spreads are those of the last whole fit",
    "fit again when convenient",
)


def updated(
    calibration: Calibration, observations: Sequence[Observation] | Readings, *, rounds: int = ROUNDS
) -> Calibration:
    """The calibration with the readings of further whips in it.

    Standard deviations, kernel centres and corrections of intervals stay as they were fitted. A cord, a
    maker, a count that the fit has not seen gets a column with its prior. The readings must be of whips
    that the fit does not hold.

    Raises
    ------
    FitError
        Where a diameter is not a positive finite number.
    """
    data = readings(observations)
    if not len(data):
        return calibration
    check_sizes(data)
    with one_thread():
        return _updated(calibration, data, rounds)


def _updated(calibration: Calibration, data: Readings, rounds: int) -> Calibration:
    data = data.rows(np.argsort(data.whip, kind="stable"))
    maker = as_in_fit(calibration.keyed, calibration.makers, data.makers, data.maker)
    carried = replace(data, maker=maker, stacks=lots_in_fit(calibration.keyed, data.stacks))
    carried = about_shared(carried, calibration.condition, calibration.method)
    parameters = calibration.model_parameters
    laid = lay_out(carried, calibration.columns.smooth, parameters)
    wider = _widened(calibration, laid.designer.columns.keyed)
    sds = {name: variance**0.5 for name, variance in calibration.variances.items()}
    at = _places(wider, laid.designer.columns.keyed)
    across = wider.covariance[at]
    coefficients = wider.coefficients
    for _ in range(rounds):
        added = pass_of(laid, coefficients[at], sds, parameters)
        coefficients, loss = _moved(wider, added.sums, at, across)
    return replace(
        wider,
        coefficients=coefficients,
        covariance=wider.covariance - loss.T @ loss,
        ranges=np.array(
            [
                np.minimum(wider.ranges[0], added.ranges[0]),
                np.maximum(wider.ranges[1], added.ranges[1]),
            ]
        ),
        cords=dict(sorted((Counter(wider.cords) + Counter(readings_of_cords(data))).items())),
        makers=dict(Counter(wider.makers) + Counter(readings_of_makers(data))),
        readings=wider.readings + len(data),
        whips=wider.whips + len(np.unique(data.whip)),
        suspects=(
            *wider.suspects,
            *suspects_of(data, added.weights, added.residuals, parameters, first=wider.readings),
        ),
        objective=None if wider.objective is None else _with_sums(wider, added.sums, at),
        findings=(*(x for x in wider.findings if x.code != UPDATED.code), UPDATED),
        fingerprint=hashlib.sha256((wider.fingerprint + data.fingerprint()).encode()).hexdigest(),
    )


def _widened(calibration: Calibration, keyed: Sequence[str]) -> Calibration:
    """With a column for every new level: zero, with its prior variance."""
    new = sorted(set(keyed) - set(calibration.keyed))
    if not new:
        return calibration
    names = tuple(sorted({*calibration.keyed, *new}))
    wider = replace(calibration, keyed=names)
    place = {name: k for k, name in enumerate(wider.columns.names)}
    old = np.array([place[name] for name in calibration.columns.names])
    there = np.array([place[name] for name in new])
    variance = np.array([calibration.level_variance(name.partition(":")[0]) for name in new])
    size = len(place)

    def spread(matrix: Array, diagonal: Array) -> Array:
        found = np.zeros((size, size))
        found[np.ix_(old, old)] = matrix
        found[there, there] = diagonal
        return found

    coefficients = np.zeros(size)
    coefficients[old] = calibration.coefficients
    objective = calibration.objective
    if objective is not None:
        right = np.zeros(size)
        right[old] = objective.right
        # A column that no reading has adds log det 1/s^2 of its prior to the matrix, and as much less here.
        constant = objective.constant + float(np.log(variance).sum())
        objective = ObjectiveSums(
            matrix=spread(objective.matrix, 1.0 / variance),
            right=right,
            constant=constant,
            value=objective.value,
        )
    covariance = spread(calibration.covariance, variance)
    return replace(wider, coefficients=coefficients, covariance=covariance, objective=objective)


def _places(calibration: Calibration, keyed: Sequence[str]) -> Index:
    """Which columns of the calibration are the features, the kernels and these levels."""
    columns = calibration.columns
    dense = len(columns.names) - len(columns.keyed)
    return np.array([*range(dense), *(columns.index[name] for name in keyed)], dtype=np.intp)


def _moved(calibration: Calibration, sums: Sums, at: Index, across: Array) -> tuple[Array, Array]:
    """Coefficients (P,) after the new readings, and F (k, P): the covariance loses F'F.

    across : rows ``at`` of the covariance.
    """
    values, vectors = np.linalg.eigh(sums.matrix)
    kept = values > NEGLIGIBLE * values[-1]
    factor = vectors[:, kept] * np.sqrt(values[kept])
    half = factor.T @ across
    lower = np.linalg.cholesky(np.eye(len(half)) + half[:, at] @ factor)
    loss = np.linalg.solve(lower, half)
    missed = sums.right - sums.matrix @ calibration.coefficients[at]
    return calibration.coefficients + missed @ across - (loss[:, at] @ missed) @ loss, loss


def _with_sums(calibration: Calibration, sums: Sums, at: Index) -> ObjectiveSums:
    objective = calibration.objective
    assert objective is not None
    mean = np.zeros(len(calibration.coefficients))
    mean[: len(FEATURES)] = feature_priors(calibration.model_parameters)[0]
    right, matrix = objective.right.copy(), objective.matrix.copy()
    right[at] += sums.right - sums.matrix @ mean[at]
    matrix[np.ix_(at, at)] += sums.matrix
    shift = float(mean[at] @ sums.matrix @ mean[at] - 2.0 * mean[at] @ sums.right)
    constant = objective.constant + sums.constant + shift
    return ObjectiveSums(matrix=matrix, right=right, constant=constant, value=None)
