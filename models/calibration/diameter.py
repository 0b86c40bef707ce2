"""DiameterModel: readings on known stacks in, a calibration out."""

import math
from collections.abc import Sequence
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, version
from typing import Self

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.calibrated import Calibration, prior_calibration, prior_variances
from plaitlog.models.calibration.carried import as_carried, shared_levels
from plaitlog.models.calibration.copied import distinct
from plaitlog.models.calibration.data_remarks import NOTHING_LEARNT, data_findings, in_words, teaches_nothing
from plaitlog.models.calibration.learning import SAMPLE, Learnt, learn_all, learn_at_scale
from plaitlog.models.calibration.observations import Interval, Observation, Prediction, Query
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.prediction import predict
from plaitlog.models.calibration.prepared import check_sizes, readings_of_cords, readings_of_makers
from plaitlog.models.calibration.readings import Readings, readings
from plaitlog.models.calibration.suspects import suspects_of
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
        data = readings(observations)
        check_sizes(data)
        if teaches_nothing(data, self.geometry):
            self.weights_ = np.ones(len(data))
            alone = prior_calibration(**self.get_params())
            findings = (*data_findings(data), NOTHING_LEARNT)
            self.calibration_ = replace(alone, findings=findings, fingerprint=data.fingerprint())
            return self
        learn = learn_at_scale if len(data) > SAMPLE else learn_all
        # One thread for each product: most matrices are small, threads on a busy machine cost more than they
        # give, and sums come out the same every time.
        with threadpool_limits(1):
            carried, findings = as_carried(data)
            # Of readings written twice one teaches.
            rows, of_row, copies = distinct(carried)
            once = carried if len(rows) == len(data) else carried.rows(rows)
            learnt = learn(once, self, start)
        if once is not carried:
            learnt = replace(learnt, weights=learnt.weights[of_row], residuals=learnt.residuals[of_row])
        self.weights_ = learnt.weights
        self.calibration_ = _calibration(data, self, learnt, (*findings, *copies))
        return self

    def predict(self, queries: Sequence[Query], *, interval: Interval = "reading") -> list[Prediction]:
        """``prediction.predict`` with ``calibration_``."""
        return predict(self.calibration_, queries, interval=interval)


def _calibration(
    data: Readings, parameters: Parameters, learnt: Learnt, remarks: Sequence[Finding]
) -> Calibration:
    findings = [*map(in_words, learnt.findings), *remarks, *data_findings(data)]
    whips = len(np.unique(data.whip))
    condition, method = shared_levels(data)
    if whips < FEW_WHIPS:
        findings.append(
            Finding(
                "little-data",
                f"{_counted(len(data), 'reading')} of {_counted(whips, 'whip')}:"
                " it rests mostly on geometry and priors",
                "record more whips",
            )
        )
    variances = {**prior_variances(parameters), **learnt.variances}
    return Calibration(
        parameters=parameters.get_params(),
        keyed=learnt.columns.keyed,
        centres=learnt.columns.smooth.centres,
        coefficients=learnt.coefficients,
        covariance=(learnt.covariance + learnt.covariance.T) / 2,
        variances=variances,
        ranges=learnt.ranges,
        cords=readings_of_cords(data),
        makers=readings_of_makers(data),
        readings=len(data),
        whips=whips,
        noise=normal_variance(parameters.freedom),
        condition=condition,
        method=method,
        findings=tuple(findings),
        suspects=suspects_of(data, learnt.weights, learnt.residuals, parameters),
        objective=learnt.objective,
        fingerprint=data.fingerprint(),
        code_version=code_version(),
    )


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


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
