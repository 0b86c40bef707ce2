"""The calibration: all that a prediction needs, as plain arrays, numbers and names."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from scipy.linalg import solve_triangular

from plaitlog.models.calibration.design import Columns
from plaitlog.models.calibration.features import feature_priors
from plaitlog.models.calibration.observations import Suspect
from plaitlog.models.calibration.packed import Array
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.smooth import smooth_at
from plaitlog.models.calibration.terms import COMPONENTS, KNOWN_SD
from plaitlog.models.errors import Finding
from plaitlog.models.whip import UNSTATED_CONDITION

WHIP_COMPONENTS = ("whip", "drift", "slot")
SLOTS = 4
"""Listed layers beyond the fourth share one pull; a whip has core, one or two bellies and an overlay."""


@dataclass(frozen=True, kw_only=True)
class ObjectiveSums:
    """Sums from which the objective of the last linear step can be worked out again.

    matrix (P, P), right (P,): the equations of the coefficients about their prior means, prior precisions
    included, after elimination of the whips. constant : what does not depend on them. value : the objective
    as the fit left it; None where sums were added since, until it is stored.
    """

    matrix: Array
    right: Array
    constant: float
    value: float | None

    def reevaluated(self) -> float:
        """constant - right' matrix^-1 right + log det matrix."""
        lower = np.linalg.cholesky(self.matrix)
        half = solve_triangular(lower, self.right, lower=True)
        return float(self.constant - half @ half + 2.0 * np.log(np.diag(lower)).sum())


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """Posterior of the diameter model.

    parameters : as the model was given them. keyed, centres : the columns beside the features.
    coefficients (P,), covariance (P, P). variances : component -> mean variance. cords, makers : readings of
    each. ranges (2, 6) : lowest and highest layer coordinate seen. noise : factor from the robust scale to
    the variance of an ordinary reading. scale_known, scale_new, scale_maker, scale_rest :
    corrections of interval widths (known cords, a new cord, an unknown maker, the rest of a measured whip)
    by cross-validation, 1 where there is none. condition, method : of whips without an effect of theirs.
    """

    parameters: Mapping[str, Any]
    keyed: tuple[str, ...]
    centres: Array
    coefficients: Array
    covariance: Array
    variances: Mapping[str, float]
    ranges: Array
    cords: Mapping[str, int]
    makers: Mapping[str, int]
    readings: int
    whips: int
    noise: float = 1.0
    scale_known: float = 1.0
    scale_new: float = 1.0
    scale_maker: float = 1.0
    scale_rest: float = 1.0
    condition: str = UNSTATED_CONDITION
    method: str = "caliper"
    findings: tuple[Finding, ...] = ()
    suspects: tuple[Suspect, ...] = ()
    objective: ObjectiveSums | None = None
    fingerprint: str = ""
    code_version: str = ""

    @property
    def model_parameters(self) -> Parameters:
        return Parameters(**self.parameters)

    @cached_property
    def columns(self) -> Columns:
        return Columns(self.keyed, smooth_at(self.centres))

    def level_variance(self, block: str) -> float:
        """Variance of a level that the fit has not seen, of a block of keyed columns."""
        if block in KNOWN_SD:
            return float(self.parameters[KNOWN_SD[block]]) ** 2
        return self.variances[block]

    def with_interval_scales(
        self, known: float, new: float, maker: float = 1.0, rest: float = 1.0
    ) -> "Calibration":
        """The same calibration with interval widths multiplied: for known cords, where one is new, for an
        unknown maker, for the rest of a measured whip."""
        return replace(self, scale_known=known, scale_new=new, scale_maker=maker, scale_rest=rest)


def prior_variances(parameters: Parameters) -> dict[str, float]:
    """Prior mean variance of every component: median^2 exp(2 log_sd^2)."""
    return {
        name: median**2 * float(np.exp(2 * log_sd**2))
        for name, (median, log_sd) in component_priors(parameters).items()
    }


def component_priors(parameters: Parameters) -> dict[str, tuple[float, float]]:
    """Median and log sd of the prior of every standard deviation."""
    names = ("residual", *COMPONENTS, *WHIP_COMPONENTS)
    return {
        name: (
            getattr(parameters, f"{name}_median"),
            parameters.between_log_sd if name == "cord" else parameters.within_log_sd,
        )
        for name in names
    }


def prior_calibration(**params: Any) -> Calibration:
    """The calibration of a workshop that has recorded nothing: the priors alone."""
    parameters = Parameters(**params)
    means, sds = feature_priors(parameters)
    finding = Finding(
        "no-fit",
        "no whip is recorded: this rests on geometry and common sense alone",
        "record whips with readings and fit",
    )
    return Calibration(
        parameters=parameters.get_params(),
        keyed=(),
        centres=np.zeros((0, 6)),
        coefficients=means,
        covariance=np.diag(sds**2),
        variances=prior_variances(parameters),
        ranges=np.array([[-np.inf] * 6, [np.inf] * 6]),
        cords={},
        makers={},
        readings=0,
        whips=0,
        findings=(finding,),
    )
