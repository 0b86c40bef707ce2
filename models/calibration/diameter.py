"""DiameterModel: readings on known stacks in, a calibration out."""

import math
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Self

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.calibrated import (
    Calibration,
    ObjectiveSums,
    prior_calibration,
    prior_variances,
)
from plaitlog.models.calibration.linearised import Linearised, fit_readings
from plaitlog.models.calibration.mixed.absorbed import eliminate
from plaitlog.models.calibration.mixed.draws import averaged_posterior, draw_sds
from plaitlog.models.calibration.observations import Interval, Observation, Prediction, Query, Suspect
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.prediction import predict
from plaitlog.models.calibration.prepared import Prepared, prepare, readings_of_cords
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.errors import Finding

FEW_WHIPS = 8


class DiameterModel(Parameters):
    """The calibrated diameter. Parameters are keyword-only, see ``Parameters``."""

    def fit(
        self, observations: Sequence[Observation] | Readings, *, start: Calibration | None = None
    ) -> Self:
        """Fit to readings; the calibration is in ``calibration_``, robust weights in ``weights_``.

        start : a calibration of much the same readings with the same parameters, to start from: a fold of a
        cross-validation needs fewer steps. It keeps the centres of the smooth.

        Raises
        ------
        FitError
            Where a diameter is not a positive finite number.
        """
        if not len(observations):
            self.calibration_ = prior_calibration(**self.get_params())
            return self
        # One thread: the matrices are small, threads on a busy machine cost more than they give, and sums
        # come out the same every time.
        with threadpool_limits(1):
            data = prepare(observations, self, None if start is None else start.columns.smooth)
            state = fit_readings(data, self, start)
            self.weights_ = state.weights
            self.calibration_ = _calibration(data, self, state)
        return self

    def predict(self, queries: Sequence[Query], *, interval: Interval = "reading") -> list[Prediction]:
        """``prediction.predict`` with ``calibration_``."""
        return predict(self.calibration_, queries, interval=interval)


def _calibration(data: Prepared, parameters: Parameters, state: Linearised) -> Calibration:
    posterior = averaged_posterior(state.model, draw_sds(state.model, state.fit, parameters.draws))
    variances = prior_variances(parameters)
    variances.update(zip(posterior.component_names, map(float, posterior.component_variances), strict=True))
    points = data.designer.strands.moved_points(state.design.resolved)
    findings = [*state.fit.convergence.findings]
    if not state.settled:
        findings.append(
            Finding(
                "not-settled",
                f"the fit had not settled after {state.steps} steps",
                "look at the suspect readings first",
            )
        )
    if data.whip_count < FEW_WHIPS:
        findings.append(
            Finding(
                "little-data",
                f"{len(data.y)} readings of {data.whip_count} whips: it rests mostly on geometry and priors",
                "record more whips",
            )
        )
    return Calibration(
        parameters=parameters.get_params(),
        keyed=data.columns.keyed,
        centres=data.columns.smooth.centres,
        coefficients=posterior.coefficients,
        covariance=(posterior.covariance + posterior.covariance.T) / 2,
        variances=variances,
        ranges=np.array([points.min(axis=0), points.max(axis=0)]),
        cords=readings_of_cords(data.readings),
        makers=_readings_of_makers(data.readings),
        readings=len(data.y),
        whips=data.whip_count,
        noise=normal_variance(parameters.freedom),
        findings=tuple(findings),
        suspects=_suspects(data, parameters, state),
        objective=_objective(state),
        fingerprint=data.fingerprint(),
        code_version=code_version(),
    )


def _readings_of_makers(data: Readings) -> dict[str, int]:
    counts = np.bincount(data.maker + 1, minlength=len(data.makers) + 1)
    return {name: int(count) for name, count in zip(["", *data.makers], counts, strict=True) if count}


def _suspects(data: Prepared, parameters: Parameters, state: Linearised) -> tuple[Suspect, ...]:
    weights = state.weights * data.doubt
    return tuple(
        Suspect(
            index=i,
            whip=data.readings.whips[data.readings.whip[i]],
            at_mm=None if np.isnan(data.readings.at_mm[i]) else float(data.readings.at_mm[i]),
            diameter_mm=float(data.readings.diameter_mm[i]),
            fitting_mm=float(np.exp(data.y[i] - state.residuals[i])),
            residual_log=float(state.residuals[i]),
            weight=float(weights[i]),
        )
        for i in np.flatnonzero(weights < parameters.suspect_weight).tolist()
    )


def _objective(state: Linearised) -> ObjectiveSums:
    solution = eliminate(state.model, state.fit.sds)
    matrix = solution.lower @ solution.lower.T
    right = matrix @ solution.v
    half = solution.lower.T @ solution.v
    determinant = 2.0 * float(np.log(np.diag(solution.lower)).sum())
    value = state.fit.criterion
    return ObjectiveSums(
        matrix=matrix, right=right, constant=value + float(half @ half) - determinant, value=value
    )


def normal_variance(freedom: float) -> float:
    """Variance of normal readings over the squared scale that Student-t weights settle at for them.

    The scale s solves E[(f + 1) r^2 / (f s^2 + r^2)] = 1 for standard normal r; the factor is 1 / s^2.
    """

    def excess(s: float) -> float:
        def integrand(r: float) -> float:
            return (freedom + 1) * r * r / (freedom * s * s + r * r) * math.exp(-r * r / 2)

        return float(quad(integrand, 0, 12)[0]) * math.sqrt(2 / math.pi) - 1

    return 1.0 / float(brentq(excess, 0.2, 2.0)) ** 2


def code_version() -> str:
    try:
        return version("plaitlog")
    except PackageNotFoundError:
        return "unknown"
