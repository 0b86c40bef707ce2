"""DiameterModel: readings on known stacks in, a calibration out."""

import hashlib
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from typing import Self

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.absorbed import eliminate
from plaitlog.models.calibration.calibrated import (
    SLOTS,
    WHIP_COMPONENTS,
    Calibration,
    ObjectiveSums,
    component_priors,
    prior_calibration,
    prior_variances,
)
from plaitlog.models.calibration.design import (
    FEATURES,
    KNOWN_SD,
    Columns,
    Design,
    Designer,
    Strands,
    both_terms,
    count_variance,
    feature_priors,
    layer_terms,
    row_terms,
    whip_columns,
)
from plaitlog.models.calibration.draws import averaged_posterior, draw_sds
from plaitlog.models.calibration.estimation import VarianceFit, estimate
from plaitlog.models.calibration.mixed_model import (
    AbsorbedFactor,
    FixedBlock,
    LinearMixedModel,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.observations import Interval, Observation, Prediction, Query, Suspect
from plaitlog.models.calibration.packed import ABSENT, Array, PackedStacks, pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.posterior import posterior_at
from plaitlog.models.calibration.prediction import predict
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.calibration.smooth import smooth_of
from plaitlog.models.errors import Finding, FitError

SETTLED = 2e-4
"""A linearisation has settled when no fitted log D moves by more than this (0.02 per cent)."""
FEW_WHIPS = 8


class DiameterModel(Parameters):
    """The calibrated diameter. Parameters are keyword-only, see ``Parameters``."""

    def fit(self, observations: Sequence[Observation], *, start: Calibration | None = None) -> Self:
        """Fit to readings; the calibration is in ``calibration_``, robust weights in ``weights_``.

        start : a calibration of much the same readings, to start from (a fold of a cross-validation). The
        result differs from that of a cold start by less than the convergence tolerance.

        Raises
        ------
        FitError
            Where a diameter is not a positive finite number.
        """
        if not observations:
            self.calibration_ = prior_calibration(**self.get_params())
            return self
        # One thread: the matrices are small, threads on a busy machine cost more than they give, and sums
        # come out the same every time.
        with threadpool_limits(1):
            data = _Data.of(observations, self)
            state = _iterate(data, self, start)
            self.weights_ = state.weights
            self.calibration_ = _calibration(data, self, state)
        return self

    def predict(self, queries: Sequence[Query], *, interval: Interval = "reading") -> list[Prediction]:
        """``prediction.predict`` with ``calibration_``."""
        return predict(self.calibration_, queries, interval=interval)


@dataclass(frozen=True)
class _Data:
    observations: Sequence[Observation]
    y: Array
    packed: PackedStacks
    designer: Designer
    columns: Columns
    at_mm: Array
    whips: tuple[str, ...]
    levels: np.ndarray
    doubt: Array

    @staticmethod
    def of(observations: Sequence[Observation], parameters: Parameters) -> "_Data":
        diameters = np.array([o.diameter_mm for o in observations], dtype=float)
        if not (np.isfinite(diameters) & (diameters > 0)).all():
            raise FitError(Finding("not-a-size", "a reading is not a positive finite diameter", "mend it"))
        packed = pack([o.stack for o in observations], parameters.geometry)
        terms = both_terms(
            layer_terms(packed),
            row_terms(
                [o.maker for o in observations],
                [o.condition for o in observations],
                [o.method for o in observations],
                [o.inner for o in observations],
            ),
        )
        start = resolve(packed, np.zeros(packed.kind.shape), parameters.geometry)
        used = np.zeros(len(terms.names), dtype=bool)
        used[terms.key] = True
        seen = sorted(name for name, there in zip(terms.names, used, strict=True) if there)
        columns = Columns(tuple(seen), smooth_of(Strands.of(packed).moved_points(start), parameters.centres))
        whips = {o.whip: 0 for o in observations}
        codes = {whip: k for k, whip in enumerate(whips)}
        return _Data(
            observations=observations,
            y=np.log(diameters),
            packed=packed,
            designer=Designer(packed, terms, columns, parameters),
            columns=columns,
            at_mm=np.array([np.nan if o.at_mm is None else o.at_mm for o in observations], dtype=float),
            whips=tuple(codes),
            levels=np.array([codes[o.whip] for o in observations], dtype=np.intp),
            doubt=np.array([4.0 if o.doubtful else 1.0 for o in observations]),
        )


@dataclass(frozen=True)
class _State:
    design: Design
    model: LinearMixedModel
    fit: VarianceFit
    weights: Array
    residuals: Array
    scale: Array
    settled: bool
    rounds: int


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


def _iterate(data: _Data, parameters: Parameters, start: Calibration | None) -> _State:
    priors = {name: LogNormalPrior(*prior) for name, prior in component_priors(parameters).items()}
    blocks = blocks_of(data.columns, parameters)
    coefficients, residual = _started(data, parameters, start)
    weights = 1.0 / data.doubt
    sds: Array | None = None
    eta: Array | None = None
    fitted = np.full(len(data.y), np.inf)
    state: _State | None = None
    for rounds in range(1, parameters.iterations + 1):
        design = data.designer.at(coefficients, eta, rounds=1 if rounds > 1 else 3)
        eta = design.eta
        whip = whip_columns(data.packed, design.resolved, data.at_mm, SLOTS)
        known = (parameters.caliper_mm / design.resolved.diameter) ** 2
        known += count_variance(data.packed, design.resolved, parameters.gamma)
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
                len(data.whips),
            ),
            weights=weights / inflation,
            residual_prior=priors["residual"],
        )
        fit = estimate(model, sds)
        sds = np.maximum(fit.sds, 1e-5)
        residual = float(sds[0])
        posterior = posterior_at(model, fit.sds)
        coefficients = posterior.coefficients
        own = np.einsum("im,im->i", whip, posterior.level_means[data.levels])
        now = design.working + design.rows @ coefficients
        residuals = data.y - now - own
        scale = residual * np.sqrt(inflation)
        moved = float(np.max(np.abs(now - fitted)))
        fitted = now
        state = _State(design, model, fit, weights, residuals, scale, moved < SETTLED, rounds)
        if state.settled:
            break
        freedom = parameters.freedom
        weights = (freedom + 1) / (freedom + (residuals / scale) ** 2) / data.doubt
    assert state is not None
    return state


def _started(data: _Data, parameters: Parameters, start: Calibration | None) -> tuple[Array, float]:
    coefficients = np.zeros(len(data.columns.names))
    coefficients[: len(FEATURES)] = feature_priors(parameters)[0]
    return coefficients, parameters.residual_median


def _calibration(data: _Data, parameters: Parameters, state: _State) -> Calibration:
    posterior = averaged_posterior(state.model, draw_sds(state.model, state.fit, parameters.draws))
    variances = prior_variances(parameters)
    variances.update(zip(posterior.component_names, map(float, posterior.component_variances), strict=True))
    points = data.designer.strands.moved_points(state.design.resolved)
    findings = [*state.fit.convergence.findings]
    if not state.settled:
        findings.append(
            Finding(
                "not-settled",
                f"the fit had not settled after {state.rounds} rounds",
                "look at the suspect readings first",
            )
        )
    if len(data.whips) < FEW_WHIPS:
        findings.append(
            Finding(
                "little-data",
                f"{len(data.y)} readings of {len(data.whips)} whips: it rests mostly on geometry and priors",
                "record more whips",
            )
        )
    return Calibration(
        parameters=parameters.get_params(),
        keyed=data.columns.keyed,
        centres=data.columns.smooth.centres,
        coefficients=posterior.coefficients,
        covariance=posterior.covariance,
        variances=variances,
        ranges=np.array([points.min(axis=0), points.max(axis=0)]),
        cords=_cords(data),
        makers=dict(Counter(o.maker or "" for o in data.observations)),
        readings=len(data.y),
        whips=len(data.whips),
        noise=normal_variance(parameters.freedom),
        findings=tuple(findings),
        suspects=_suspects(data, parameters, state),
        objective=_objective(state),
        fingerprint=fingerprint(data),
        code_version=code_version(),
    )


def _cords(data: _Data) -> dict[str, int]:
    packed = data.packed
    present = packed.kind[packed.group_row, packed.group_layer] != ABSENT
    seen = {
        (row, packed.cords[cord].cord.name)
        for row, cord in zip(
            packed.group_row[present].tolist(), packed.group_cord[present].tolist(), strict=True
        )
    }
    return dict(sorted(Counter(name for _, name in seen).items()))


def _suspects(data: _Data, parameters: Parameters, state: _State) -> tuple[Suspect, ...]:
    weights = state.weights * data.doubt
    return tuple(
        Suspect(
            index=i,
            whip=data.observations[i].whip,
            at_mm=data.observations[i].at_mm,
            diameter_mm=data.observations[i].diameter_mm,
            fitting_mm=float(np.exp(data.y[i] - state.residuals[i])),
            residual_log=float(state.residuals[i]),
            weight=float(weights[i]),
        )
        for i in np.flatnonzero(weights < parameters.suspect_weight).tolist()
    )


def _objective(state: _State) -> ObjectiveSums:
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


def fingerprint(data: _Data) -> str:
    """SHA-256 of all that the fit saw: readings, stations, stacks, cord sizes, whips, levels, in order."""
    digest = hashlib.sha256()
    packed = data.packed
    arrays = [data.y, data.at_mm, data.doubt, data.levels, data.designer.terms.key]
    arrays += [value for value in vars(packed).values() if isinstance(value, np.ndarray)]
    for array in arrays:
        digest.update(np.ascontiguousarray(array).astype(np.float64).tobytes())
    names = [*data.whips, *data.designer.terms.names, *(str(o.maker) for o in data.observations)]
    digest.update("\n".join(names).encode())
    return digest.hexdigest()


def code_version() -> str:
    try:
        return version("plaitlog")
    except PackageNotFoundError:
        return "unknown"
