"""The fit itself: linearise, solve a linear mixed model, weigh the readings, and again until it settles.

At the true coefficients b of a whip's row the model reads log D = working + rows'b + whip'a + e; both follow
from the diameters at the current coefficients, so every step is a linear mixed model (Gauss-Newton on the
shares of D squared, with the features of the layers brought up to date each time).
"""

from dataclasses import dataclass

import numpy as np

from plaitlog.models.calibration.calibrated import SLOTS, WHIP_COMPONENTS, Calibration, component_priors
from plaitlog.models.calibration.design import Columns, Design
from plaitlog.models.calibration.features import FEATURES, feature_priors
from plaitlog.models.calibration.mixed.estimation import VarianceFit, estimate
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    FixedBlock,
    LinearMixedModel,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.mixed.posterior import posterior_at
from plaitlog.models.calibration.packed import Array
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.prepared import Prepared
from plaitlog.models.calibration.terms import KNOWN_SD
from plaitlog.models.calibration.whip_effects import count_variance, whip_columns

SETTLED = 2e-4
"""A fit has settled when no fitted log D moves by more than this (0.02 per cent) in one step."""
SWING = 0.7
"""A step that moves more than this share of the one before no longer closes in: Gauss-Newton steps that
overshoot repeat their move with its sign turned, sound ones shrink it to a third or so."""


@dataclass(frozen=True)
class Linearised:
    """The last step. weights (n,) were used in it; residuals (n,) of log D, after the whips' own effects."""

    design: Design
    model: LinearMixedModel
    fit: VarianceFit
    weights: Array
    residuals: Array
    settled: bool
    steps: int


def fit_readings(data: Prepared, parameters: Parameters, start: Calibration | None = None) -> Linearised:
    """Iterate to convergence; ``start``: a calibration of similar readings to start from."""
    priors = {name: LogNormalPrior(*prior) for name, prior in component_priors(parameters).items()}
    blocks = blocks_of(data.columns, parameters)
    first = first_coefficients(data.columns, parameters, start)
    coefficients = np.array([first.get(name, 0.0) for name in data.columns.names])
    residual = parameters.residual_median if start is None else start.variances["residual"] ** 0.5
    freedom = parameters.freedom
    weights = 1.0 / data.doubt
    sds: Array | None = None
    eta: Array | None = None
    fitted = np.full(len(data.y), np.inf)
    moved = np.inf
    state: Linearised | None = None
    for step in range(1, parameters.iterations + 1):
        design = data.designer.at(coefficients, eta, rounds=3 if step == 1 else 1)
        eta = design.eta
        whip = whip_columns(data.packed, design, data.readings.at_mm, SLOTS)
        known = (parameters.caliper_mm / design.resolved.diameter) ** 2
        known += count_variance(data.packed, design, parameters.gamma)
        # Known row variances enter as weights at the last residual variance: sums are then made once a step.
        inflation = 1.0 + known / residual**2
        model = mixed_model(
            data.y - design.working,
            design.rows,
            blocks,
            absorbed=AbsorbedFactor(
                data.levels,
                whip,
                ("whip", "drift", *["slot"] * SLOTS),
                {name: priors[name] for name in WHIP_COMPONENTS},
                data.whip_count,
            ),
            weights=weights / inflation,
            residual_prior=priors["residual"],
        )
        if sds is None and start is not None:
            sds = np.array([start.variances[name] ** 0.5 for name in model.component_names])
        fit = estimate(model, sds)
        sds = np.maximum(fit.sds, 1e-5)
        residual = float(sds[0])
        posterior = posterior_at(model, fit.sds)
        expected = design.working + design.rows @ posterior.coefficients
        own = np.einsum("im,im->i", whip, posterior.level_means[data.levels])
        residuals = data.y - expected - own
        moved_before, moved = moved, float(np.max(np.abs(expected - fitted)))
        swings = moved > SWING * moved_before
        coefficients = (coefficients + posterior.coefficients) / 2 if swings else posterior.coefficients
        fitted = expected
        state = Linearised(design, model, fit, weights, residuals, moved < SETTLED, step)
        if state.settled:
            break
        standardised = residuals / (residual * np.sqrt(inflation))
        weights = (freedom + 1) / (freedom + standardised**2) / data.doubt
    assert state is not None
    return state


def first_coefficients(
    columns: Columns, parameters: Parameters, start: Calibration | None
) -> dict[str, float]:
    """Where the first linearisation stands, by column name: the prior means, or where ``start`` ended."""
    if start is not None:
        return dict(zip(start.columns.names, start.coefficients.tolist(), strict=True))
    means = feature_priors(parameters)[0].tolist()
    return dict(zip(columns.names[: len(FEATURES)], means, strict=True))


def blocks_of(columns: Columns, parameters: Parameters) -> list[FixedBlock | RandomBlock]:
    """The prior of every column."""
    means, sds = feature_priors(parameters)
    count = len(FEATURES)
    blocks: list[FixedBlock | RandomBlock] = [
        FixedBlock("features", range(count), means.tolist(), sds.tolist())
    ]
    priors = {name: LogNormalPrior(*prior) for name, prior in component_priors(parameters).items()}
    where: dict[str, list[int]] = {}
    for place, name in enumerate(columns.names[count:], start=count):
        where.setdefault(name.partition(":")[0], []).append(place)
    for name, places in where.items():
        if name in KNOWN_SD:
            blocks.append(FixedBlock(name, places, 0.0, float(getattr(parameters, KNOWN_SD[name]))))
        else:
            blocks.append(RandomBlock(name, places, priors[name]))
    return blocks
