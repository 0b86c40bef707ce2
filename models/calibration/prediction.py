"""Diameters from a calibration, with honest intervals; needs numpy, scipy and threadpoolctl only."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.calibrated import SLOTS, WHIP_COMPONENTS, Calibration
from plaitlog.models.calibration.calibrated import prior_calibration as prior_calibration
from plaitlog.models.calibration.carried import about_shared, as_in_fit, lots_in_fit
from plaitlog.models.calibration.design import Columns, Design, Designer
from plaitlog.models.calibration.features import Strands
from plaitlog.models.calibration.observations import Z50, Z90
from plaitlog.models.calibration.observations import Interval as Interval
from plaitlog.models.calibration.observations import Observation as Observation
from plaitlog.models.calibration.observations import Prediction as Prediction
from plaitlog.models.calibration.observations import Query as Query
from plaitlog.models.calibration.one_thread import one_thread
from plaitlog.models.calibration.packed import Array, Index, PackedStacks, pack
from plaitlog.models.calibration.readings import levels
from plaitlog.models.calibration.remarks import query_findings
from plaitlog.models.calibration.stack_columns import stack_columns
from plaitlog.models.calibration.terms import both_terms, layer_terms, row_terms
from plaitlog.models.calibration.whip_effects import count_variance, whip_columns
from plaitlog.models.errors import Finding, FitError
from plaitlog.models.stack import Stack

ROUNDS: Final = 5
"""Times that features and diameters are brought into agreement."""
BATCH: Final = 4096


@dataclass(frozen=True)
class Rows:
    """Prior moments of log D for stacks under one calibration: mean, the factors of its covariance."""

    packed: PackedStacks
    strands: Strands
    design: Design
    mean: Array
    whip: Array
    own_variance: Array
    caliper_variance: Array
    unseen_variance: Array
    unseen_names: tuple[str, ...]


def predict(
    calibration: Calibration, queries: Sequence[Query], *, interval: Interval = "reading"
) -> list[Prediction]:
    """Predict every query.

    Parameters
    ----------
    interval : "reading" for the next caliper reading, "true" for the diameter itself (local irregularity of
        the plait included, the caliper's own error not).

    Returns
    -------
    One prediction per query, in order, never NaN. Levels that the fit has not seen (a cord, a maker, a whip)
    enter with their variance; readings of a query condition the effects of its whip in closed form.
    """
    # Small batches stay in the processor's cache; queries that share readings stay together.
    predictions: list[Prediction | None] = [None] * len(queries)
    with one_thread():
        columns = calibration.columns
        for batch in _batches(queries):
            answers = _predict_batch(calibration, columns, [queries[i] for i in batch], interval)
            for i, answer in zip(batch, answers, strict=True):
                predictions[i] = answer
    return [prediction for prediction in predictions if prediction is not None]


def _batches(queries: Sequence[Query]) -> Iterator[list[int]]:
    alone: list[int] = []
    shared: dict[tuple[int, ...], list[int]] = {}
    for i, query in enumerate(queries):
        if query.readings:
            shared.setdefault(tuple(map(id, query.readings)), []).append(i)
        else:
            alone.append(i)
    yield from (alone[first : first + BATCH] for first in range(0, len(alone), BATCH))
    batch: list[int] = []
    for members in shared.values():
        batch += members
        if len(batch) >= BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def _predict_batch(
    calibration: Calibration, columns: Columns, queries: Sequence[Query], interval: Interval
) -> list[Prediction]:
    group_of = np.full(len(queries), -1, dtype=np.intp)
    numbers: dict[tuple[tuple[int, ...], str | None], int] = {}
    members: list[tuple[tuple[Observation, ...], str | None]] = []
    for i, query in enumerate(queries):
        if query.readings:
            key = (tuple(map(id, query.readings)), query.maker)
            if key not in numbers:
                numbers[key] = len(members)
                members.append((query.readings, query.maker))
            group_of[i] = numbers[key]
    taken = [(reading, maker, k) for k, (readings, maker) in enumerate(members) for reading in readings]
    rows = rows_of(
        calibration,
        columns,
        [query.stack for query in queries] + [reading.stack for reading, _, _ in taken],
        [query.maker for query in queries] + [maker for _, maker, _ in taken],
        [query.condition for query in queries] + [reading.condition for reading, _, _ in taken],
        ["caliper"] * len(queries) + [reading.method for reading, _, _ in taken],
        [query.inner for query in queries] + [reading.inner for reading, _, _ in taken],
        [query.at_mm for query in queries] + [reading.at_mm for reading, _, _ in taken],
    )
    variance = _variance(calibration, rows)
    mean = rows.mean.copy()
    if taken:
        reading_group = np.array([k for _, _, k in taken], dtype=np.intp)
        measured = np.log([reading.diameter_mm for reading, _, _ in taken])
        doubt = np.array([4.0 if reading.doubtful else 1.0 for reading, _, _ in taken])
        by_query, by_reading = _grouped(group_of, len(members)), _grouped(reading_group, len(members))
        for asked, given in zip(by_query, by_reading, strict=True):
            there = given + len(queries)
            shift, less = _conditioned(calibration, rows, asked, there, measured[given], doubt[given])
            mean[asked] += shift
            variance[asked] -= less
    n = len(queries)
    noise = calibration.variances["residual"] * calibration.noise
    variance = np.maximum(variance[:n], 1e-10) + noise
    if interval == "reading":
        variance = variance + rows.caliper_variance[:n]
    return _told(calibration, queries, rows, mean[:n], np.sqrt(variance))


def _grouped(groups: Index, count: int) -> list[Index]:
    order = np.argsort(groups, kind="stable")
    bounds = np.searchsorted(groups[order], np.arange(count + 1))
    return [order[low:high] for low, high in pairwise(bounds)]


def rows_of(
    calibration: Calibration,
    columns: Columns,
    stacks: Sequence[Stack],
    makers: Sequence[str | None],
    conditions: Sequence[str | None],
    methods: Sequence[str],
    inner: Sequence[bool],
    at_mm: Sequence[float | None],
) -> Rows:
    """Rows of stacks, all arguments in one order; a level that the fit has not seen is one for all rows."""
    parameters = calibration.model_parameters
    packed = pack(lots_in_fit(calibration.keyed, stack_columns(stacks)), parameters.geometry)
    told = about_shared(levels(makers, conditions, methods, inner), calibration.condition, calibration.method)
    maker = as_in_fit(calibration.keyed, calibration.makers, told.makers, told.maker)
    terms = both_terms(layer_terms(packed), row_terms(replace(told, maker=maker)))
    designer = Designer(packed, terms, columns, parameters)
    design = designer.at(calibration.coefficients, rounds=ROUNDS)
    stations = np.array([np.nan if x is None else x for x in at_mm], dtype=float)
    return Rows(
        packed=packed,
        strands=designer.strands,
        design=design,
        mean=design.working + design.rows @ calibration.coefficients,
        whip=whip_columns(packed, design, stations, SLOTS),
        own_variance=count_variance(packed, design, parameters.gamma)
        + design.leftover * calibration.variances["smooth"],
        caliper_variance=(parameters.caliper_mm / design.resolved.diameter) ** 2,
        unseen_variance=np.array([calibration.level_variance(block) for block in design.unseen_blocks]),
        unseen_names=designer.unseen_names,
    )


def whip_variances(calibration: Calibration) -> Array:
    """Variances of a whip's own effects, in the order of ``whip_columns``."""
    pull, drift, slot = (calibration.variances[name] for name in WHIP_COMPONENTS)
    return np.array([pull, drift, *[slot] * SLOTS])


def _variance(calibration: Calibration, rows: Rows) -> Array:
    """Variance of log D of every row, for a whip of which nothing is measured; no noise."""
    design = rows.design
    total = np.einsum("ij,ij->i", design.rows @ calibration.covariance, design.rows)
    total += (design.unseen**2) @ rows.unseen_variance
    total += rows.whip**2 @ whip_variances(calibration)
    return np.asarray(total + rows.own_variance)


def _conditioned(
    calibration: Calibration, rows: Rows, asked: Index, given: Index, measured: Array, doubt: Array
) -> tuple[Array, Array]:
    """Shift of the mean and loss of variance of rows ``asked`` once rows ``given`` were measured."""
    gain, across, miss = gain_of(calibration, rows, asked, given, measured, doubt)
    return gain @ miss, np.einsum("ij,ij->i", gain, across)


def gain_of(
    calibration: Calibration, rows: Rows, asked: Index, given: Index, measured: Array, doubt: Array
) -> tuple[Array, Array, Array]:
    """What rows ``given``, once measured, tell of rows ``asked``: gain, covariance of both, and the miss.

    Gaussian conditioning with Student-t weights, so that one mistyped reading does not drag the whip along.
    ``doubt``: how many times the variance of its noise each reading has.
    """
    freedom = calibration.model_parameters.freedom
    inside = covariance_of(calibration, rows, given, given)
    across = covariance_of(calibration, rows, asked, given)
    noise = calibration.variances["residual"] + rows.caliper_variance[given]
    own = rows.own_variance[given]
    miss = measured - rows.mean[given]
    weight = 1.0 / doubt
    for _ in range(5):
        total = inside + np.diag(own + noise / weight)
        solved = np.linalg.solve(total, miss)
        left = miss - inside @ solved - own * solved
        weight = (freedom + 1) / (freedom + left**2 / noise) / doubt
    total = inside + np.diag(own + noise / weight)
    gain = np.asarray(np.linalg.solve(total, across.T).T, dtype=np.float64)
    return gain, across, miss


def covariance_of(calibration: Calibration, rows: Rows, first: Index, second: Index) -> Array:
    """Covariance of log D between rows of one whip, without what each row has of its own."""
    left, right = rows.design.rows[first], rows.design.rows[second]
    total = left @ calibration.covariance @ right.T
    total += (rows.whip[first] * whip_variances(calibration)) @ rows.whip[second].T
    if rows.design.unseen.shape[1]:
        unseen = rows.design.unseen.tocsr()
        scaled = unseen[first].multiply(rows.unseen_variance).tocsr()
        total += (scaled @ unseen[second].T).toarray()
    return np.asarray(total)


def _scales(calibration: Calibration, queries: Sequence[Query], new_cord: NDArray[np.bool_]) -> Array:
    """Correction of each interval, by the trial that asked the same; where two did, by the wider."""
    measured = np.array([bool(query.readings) for query in queries], dtype=bool)
    unknown = np.array([(query.maker or "") not in calibration.makers for query in queries], dtype=bool)
    asked = [
        (new_cord, calibration.scale_new),
        (unknown & ~measured, calibration.scale_maker),
        (measured, calibration.scale_rest),
    ]
    widest = np.max([np.where(which, scale, 0.0) for which, scale in asked], axis=0)
    return np.where(widest > 0, widest, calibration.scale_known)


def _told(
    calibration: Calibration, queries: Sequence[Query], rows: Rows, mean: Array, sd: Array
) -> list[Prediction]:
    found = query_findings(calibration, queries, rows.packed, rows.design.resolved, rows.strands)
    width = sd * _scales(calibration, queries, found.new_cord)
    with np.errstate(over="ignore", invalid="ignore"):  # sizes next to 0: told below
        middle = np.exp(mean)
        columns = [middle, sd] + [middle * np.exp(z * width) for z in (-Z50, Z50, -Z90, Z90)]
    if not np.isfinite(columns).all():
        raise FitError(
            Finding("not-finite", "a prediction is not a finite number", "check the stack's sizes")
        )
    return [
        Prediction(
            diameter_mm=d,
            sd_log=s,
            low_50_mm=low50,
            high_50_mm=high50,
            low_90_mm=low90,
            high_90_mm=high90,
            cover=cover,
            new_cord=new,
            findings=findings,
        )
        for d, s, low50, high50, low90, high90, cover, new, findings in zip(
            *(column.tolist() for column in columns),
            found.cover,
            found.new_cord.tolist(),
            found.findings,
            strict=True,
        )
    ]
