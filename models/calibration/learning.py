"""From readings to coefficients: all of them at once, or a sample of whips first and then a pass over all."""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from plaitlog.models.calibration.calibrated import WHIP_COMPONENTS, Calibration, ObjectiveSums
from plaitlog.models.calibration.design import Columns
from plaitlog.models.calibration.full_pass import THREADS, LaidOut, Point, full_pass, laid_out
from plaitlog.models.calibration.linearised import (
    SWING,
    Linearised,
    blocks_of,
    first_coefficients,
    fit_readings,
)
from plaitlog.models.calibration.mixed.absorbed import eliminate
from plaitlog.models.calibration.mixed.draws import averaged_posterior, draw_sds
from plaitlog.models.calibration.packed import Array, Index
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.prepared import prepare
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.reduced import averaged, mode_of, objective_of, reduced_model, solve
from plaitlog.models.calibration.sampling import clusters_of_whips, sample_of_whips
from plaitlog.models.errors import Finding

SAMPLE = 4_000
"""Readings up to which all are worked on at once; with forty cords that takes half a minute from here on.
Above, the linearisation settles on a sample of whips, and one or two passes over all readings follow."""
CLUSTERS, CLUSTER_SIZE, CLUSTER_CORDS = 4, 1_100, 6
"""Samples that settle the standard deviations within whips: 340 whips together know them to 4 per cent. As
many clusters as two cores share evenly."""
SETTLING = 12_000
"""Readings of the sample on which the linearisation settles, after STEPS[0] steps on a tenth of it."""
STEPS = (4, 8)
PASSES = 2
STILL = 1e-3
"""Root mean square (0.1 per cent) of the change of expected log D between two linearisations that agree."""
FAR = 8e-3
"""A second pass is made where the first moves expected log D by more than this: robust weights and
linearisation lag a third of a step behind, so that what is left then is above 0.3 per cent."""


@dataclass(frozen=True, eq=False)
class Learnt:
    """Moments of the coefficients (P,), (P, P) in the order of ``columns``; mean variance by component.

    weights, residuals (n,): robust weights, and log D less its expectation with the whip's own effects.
    ranges (2, 6): lowest and highest layer coordinate seen.
    """

    columns: Columns
    coefficients: Array
    covariance: Array
    variances: dict[str, float]
    ranges: Array
    weights: Array
    residuals: Array
    objective: ObjectiveSums
    findings: tuple[Finding, ...]


def learn_all(data: Readings, parameters: Parameters, start: Calibration | None) -> Learnt:
    """Iterate over all readings; ``start``: a calibration of much the same readings, whose smooth is kept."""
    prepared = prepare(data, parameters, None if start is None else start.columns.smooth)
    state = fit_readings(prepared, parameters, start)
    posterior = averaged_posterior(state.model, draw_sds(state.model, state.fit, parameters.draws))
    points = prepared.designer.strands.moved_points(state.design.resolved)
    return Learnt(
        columns=prepared.columns,
        coefficients=posterior.coefficients,
        covariance=posterior.covariance,
        variances=dict(zip(posterior.component_names, posterior.component_variances.tolist(), strict=True)),
        ranges=np.array([points.min(axis=0), points.max(axis=0)]),
        weights=state.weights,
        residuals=state.residuals,
        objective=_objective(state),
        findings=_findings(state),
    )


def learn_at_scale(data: Readings, parameters: Parameters, start: Calibration | None) -> Learnt:
    """Settle on a seeded sample of whips, then pass over all readings about where that settled.

    The standard deviations of pull, drift, layers and readings come from clusters of whips that share few
    cords: they belong to hands and calipers, and there the whole iteration is quick. Those between cords come
    from all readings.
    """
    kept = None if start is None else start.columns.smooth

    def settled_cluster(whips: Index) -> Linearised:
        return fit_readings(prepare(data.of_whips(whips), parameters, kept), parameters, start)

    chosen = clusters_of_whips(data, CLUSTERS, CLUSTER_SIZE, CLUSTER_CORDS, parameters.random_state)
    with ThreadPoolExecutor(THREADS) as pool:
        clusters = list(pool.map(settled_cluster, chosen))
    sds = _together([dict(zip(x.fit.component_names, x.fit.sds.tolist(), strict=True)) for x in clusters])
    small, sample = (
        data.of_whips(sample_of_whips(data, size, parameters.random_state))
        for size in (SETTLING // 10, SETTLING)
    )
    smooth = prepare(small, parameters).columns.smooth if kept is None else kept
    at = first_coefficients(Columns((), smooth), parameters, start)
    point, _ = _settled(small, Point(at, smooth, sds), parameters, STEPS[0])
    laid = laid_out(sample, smooth, parameters)
    point, settled = _settled(sample, point, parameters, STEPS[1], laid)
    between_sds: Mapping[str, float] = sds
    for _ in range(PASSES):
        passed = full_pass(data, point, parameters)
        columns = Columns(passed.sums.keyed, smooth)
        model = reduced_model(passed.sums, blocks_of(columns, parameters))
        mode = mode_of(model, between_sds)
        between_sds = dict(zip(model.names, np.exp(mode).tolist(), strict=True))
        solution = solve(model, mode)
        there = Point(_named(columns, solution.coefficients), smooth, point.sds)
        before, after = (full_pass(small, x, parameters).expected for x in (point, there))
        point = there
        if _rms(after - before) < FAR:
            break
    mean, covariance, between = averaged(model, mode, parameters.draws)
    within = {name: sds[name] ** 2 for name in ("residual", *WHIP_COMPONENTS)}
    findings = _not_settled(sum(STEPS)) if not settled else ()
    return Learnt(
        columns=columns,
        coefficients=mean,
        covariance=covariance,
        variances={**within, **between},
        ranges=passed.ranges,
        weights=passed.weights,
        residuals=passed.residuals,
        objective=objective_of(model, solution),
        findings=findings,
    )


def _together(found: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Root mean squares of the standard deviations, each over the fits that have it."""
    names = sorted({name for sds in found for name in sds})
    return {name: float(np.sqrt(np.mean([sds[name] ** 2 for sds in found if name in sds]))) for name in names}


def _settled(
    sample: Readings,
    point: Point,
    parameters: Parameters,
    steps: int,
    laid: Sequence[LaidOut] | None = None,
) -> tuple[Point, bool]:
    """Linearise again and again until the expected diameters agree."""
    expected, moved = np.full(len(sample), np.inf), np.inf
    for _ in range(steps):
        passed = full_pass(sample, point, parameters, laid)
        moved_before, moved = moved, _rms(passed.expected - expected)
        expected = passed.expected
        if moved < STILL:
            return point, True
        columns = Columns(passed.sums.keyed, point.smooth)
        model = reduced_model(passed.sums, blocks_of(columns, parameters))
        log_sds = np.log([point.sds.get(x, p.median) for x, p in zip(model.names, model.priors, strict=True)])
        found = _named(columns, solve(model, log_sds).coefficients)
        if moved > SWING * moved_before:
            found = {name: (x + point.coefficients.get(name, x)) / 2 for name, x in found.items()}
        point = Point(found, point.smooth, point.sds)
    return point, False


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))


def _named(columns: Columns, coefficients: Array) -> dict[str, float]:
    return dict(zip(columns.names, coefficients.tolist(), strict=True))


def _findings(state: Linearised) -> tuple[Finding, ...]:
    return (*state.fit.convergence.findings, *(() if state.settled else _not_settled(state.steps)))


def _not_settled(steps: int) -> tuple[Finding, ...]:
    text = f"the fit had not settled after {steps} steps"
    return (Finding("not-settled", text, "look at the suspect readings first"),)


def _objective(state: Linearised) -> ObjectiveSums:
    solution = eliminate(state.model, state.fit.sds)
    scale = solution.scale
    matrix = (solution.lower @ solution.lower.T) / (scale[:, None] * scale)
    half = solution.lower.T @ solution.v
    determinant = 2.0 * float(np.log(np.diag(solution.lower) / scale).sum())
    value = state.fit.criterion
    return ObjectiveSums(
        matrix=matrix,
        right=solution.lower @ half / scale,
        constant=value + float(half @ half) - determinant,
        value=value,
    )
