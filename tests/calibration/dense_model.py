"""The textbook form of a mixed model, with the whole covariance matrix of the rows: an oracle, O(n^3)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    Criterion,
    FixedBlock,
    LinearMixedModel,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)

Floats = NDArray[np.float64]

FLAT, NORMAL, FIRST, SECOND = [0, 1], [2, 3], [4, 5, 6], [7, 8]
PRIOR_MEAN, PRIOR_SD = np.array([0.5, -1.0]), np.array([0.3, 2.0])
FIRST_PRIOR, WHIP_PRIOR, RESIDUAL_PRIOR = (
    LogNormalPrior(0.5, 0.7),
    LogNormalPrior(1.0, 1.0),
    LogNormalPrior(0.9, 0.4),
)
SDS = np.array([0.8, 0.4, 0.9, 0.5, 0.3])  # residual, first, second, whip, slot


@dataclass(frozen=True)
class Example:
    """Everything a model can hold: flat columns, columns with a normal prior, two random blocks, three
    absorbed columns of two components, weights, known variances."""

    y: Floats
    X: Floats
    levels: NDArray[np.intp]
    P: Floats
    weights: Floats
    known: Floats

    def model(
        self, criterion: Criterion, known: bool = True, priors: bool = True, repeats: Floats | None = None
    ) -> LinearMixedModel:
        return mixed_model(
            self.y,
            self.X,
            [
                FixedBlock("flat", FLAT),
                FixedBlock("normal", NORMAL, PRIOR_MEAN, PRIOR_SD),
                RandomBlock("first", FIRST, FIRST_PRIOR if priors else None),
                RandomBlock("second", SECOND),
            ],
            absorbed=AbsorbedFactor(
                self.levels, self.P, ["whip", "slot", "slot"], {"whip": WHIP_PRIOR} if priors else {}
            ),
            weights=self.weights,
            known_variance=self.known if known else None,
            repeats=repeats,
            residual_prior=RESIDUAL_PRIOR if priors else None,
            criterion=criterion,
        )


def example(seed: int, rows: int = 40, level_count: int = 6) -> Example:
    rng = np.random.default_rng(seed)
    X = np.column_stack([np.ones(rows), rng.normal(size=(rows, 8))])
    levels = rng.integers(0, level_count, rows)
    P = np.column_stack([rng.uniform(0.5, 1.0, rows), rng.normal(size=(rows, 2))])
    y = X @ rng.normal(size=9) + rng.normal(size=rows) + rng.normal(size=level_count)[levels]
    return Example(y, X, levels, P, rng.uniform(0.5, 2.0, rows), rng.uniform(0.1, 0.5, rows))


def coefficient_variance(sds: Floats) -> Floats:
    """Prior variances (9,) of the columns of X; 0 stands for the flat ones."""
    _, first, second, _, _ = sds
    return np.array([0.0, 0.0, *PRIOR_SD**2, *[first**2] * 3, *[second**2] * 2])


def row_covariance(one: Example, sds: Floats, known: bool) -> Floats:
    """V = X G X' + the absorbed effects + R (n, n)."""
    sigma, _, _, whip, slot = sds
    same = one.levels[:, None] == one.levels
    effects = same * ((one.P * np.array([whip, slot, slot]) ** 2) @ one.P.T)
    noise = (sigma**2 + (one.known if known else 0.0)) / one.weights
    return (one.X * coefficient_variance(sds)) @ one.X.T + effects + np.diag(noise)


def prior_penalty(sds: Floats) -> float:
    pairs = ((sds[0], RESIDUAL_PRIOR), (sds[1], FIRST_PRIOR), (sds[3], WHIP_PRIOR))
    return sum((np.log(sd / prior.median) / prior.log_sd) ** 2 for sd, prior in pairs)


def dense_criterion(one: Example, sds: Floats, kind: Criterion, known: bool) -> float:
    """-2 log (restricted) likelihood, no priors on the sds (Harville 1974 without his constant |X'X|)."""
    V = row_covariance(one, sds, known)
    F = one.X[:, FLAT]
    r = one.y - one.X[:, NORMAL] @ PRIOR_MEAN
    information = F.T @ np.linalg.solve(V, F)
    r = r - F @ np.linalg.solve(information, F.T @ np.linalg.solve(V, r))
    freedom = len(r) - (len(FLAT) if kind == "reml" else 0)
    value = freedom * np.log(2 * np.pi) + np.linalg.slogdet(V)[1] + r @ np.linalg.solve(V, r)
    return float(value + (np.linalg.slogdet(information)[1] if kind == "reml" else 0.0))


def dense_prediction(
    one: Example, sds: Floats, x: Floats, P: Floats, levels: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """Best linear unbiased prediction of new rows and its covariance, by kriging with flat columns."""
    V = row_covariance(one, sds, known=True)
    effect_sd = np.array([sds[3], sds[4], sds[4]])
    prior = np.zeros(9)
    prior[NORMAL] = PRIOR_MEAN
    g = coefficient_variance(sds)
    K = (x * g) @ one.X.T + (levels[:, None] == one.levels) * ((P * effect_sd**2) @ one.P.T)
    K_new = (x * g) @ x.T + (levels[:, None] == levels) * ((P * effect_sd**2) @ P.T)
    F, f = one.X[:, FLAT], x[:, FLAT]
    information = F.T @ np.linalg.solve(V, F)
    r = one.y - one.X @ prior
    beta = np.linalg.solve(information, F.T @ np.linalg.solve(V, r))
    mean = x @ prior + f @ beta + K @ np.linalg.solve(V, r - F @ beta)
    left = f - K @ np.linalg.solve(V, F)
    covariance = K_new - K @ np.linalg.solve(V, K.T) + left @ np.linalg.solve(information, left.T)
    return mean, covariance
