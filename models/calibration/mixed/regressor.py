"""A linear mixed regression with the interface of scikit-learn: numbers in, numbers out."""

import math
from collections.abc import Mapping, Sequence
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted, validate_data

from plaitlog.models.calibration.mixed.draws import averaged_posterior, draw_sds
from plaitlog.models.calibration.mixed.estimation import estimate
from plaitlog.models.calibration.mixed.mixed_model import (
    AbsorbedFactor,
    Criterion,
    FixedBlock,
    LogNormalPrior,
    RandomBlock,
    mixed_model,
)
from plaitlog.models.calibration.mixed.posterior import posterior_at, predict_rows
from plaitlog.models.calibration.parameter_ranges import SHRUNKEN, faults, group_component_names

FloatArray = NDArray[np.float64]


class MixedRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Linear mixed regression fitted by (restricted) maximum likelihood.

    With the defaults every column is centred, scaled to unit variance and shrunk as one random block, beside
    a free intercept: a ridge regression whose penalty is estimated. With `blocks` given the columns are taken
    as they are: those in a block are random with one standard deviation for each block, the rest are fixed,
    so `blocks={}` is ordinary least squares (by a QR factorisation of scaled columns).

    Parameters
    ----------
    blocks : mapping from a name to columns of X, or None for the default described above.
    fit_intercept : whether a free intercept is added.
    criterion : "reml" or "ml".
    priors : mapping from a fixed column to the (mean, sd) of a normal prior on its coefficient.
    sd_priors : mapping from a block name, "group", "group slope j" (j a column) or "residual" to the
        (median, log_sd) of a log-normal prior on that standard deviation.
    groups_column : a column of X that holds group labels; each group has its own random intercept and is
        eliminated on its own, so there may be thousands.
    group_slopes : columns of X that also have a random slope for each group.
    draws : over how many draws of the standard deviations the predictions are averaged; 0 takes the estimate.

    Attributes
    ----------
    coef_ : (n_features_in_,), 0 for the groups column; intercept_ : float.
    coef_covariance_ : (n_features_in_, n_features_in_); intercept_variance_ : float.
    sigma_ : residual standard deviation. standard_deviations_ : dict by component, "residual" among them.
    group_labels_ : (groups,) and group_effects_ : (groups, 1 + slopes), empty without a groups column.
    criterion_ : -2 log likelihood at the estimate. convergence_ : record of the search.
    posterior_ : moments behind the predictions.
    """

    def __init__(
        self,
        *,
        blocks: Mapping[str, Sequence[int]] | None = None,
        fit_intercept: bool = True,
        criterion: Criterion = "reml",
        priors: Mapping[int, tuple[float, float]] | None = None,
        sd_priors: Mapping[str, tuple[float, float]] | None = None,
        groups_column: int | None = None,
        group_slopes: Sequence[int] = (),
        draws: int = 0,
    ) -> None:
        self.blocks = blocks
        self.fit_intercept = fit_intercept
        self.criterion = criterion
        self.priors = priors
        self.sd_priors = sd_priors
        self.groups_column = groups_column
        self.group_slopes = group_slopes
        self.draws = draws

    def fit(self, X: ArrayLike, y: ArrayLike, sample_weight: ArrayLike | None = None) -> Self:
        """Fit to X (n, p) and y (n,). A sample_weight (n,) >= 0 counts how often a row was seen."""
        checked = validate_data(self, X, y, dtype=np.float64, y_numeric=True, ensure_min_samples=2)
        rows: FloatArray = checked[0]
        wrong = faults(self.get_params(deep=False), rows.shape[1])
        if wrong:
            raise ValueError("; ".join(wrong))
        repeats = _repeats(sample_weight, len(rows))
        seen = repeats > 0
        self._centre, self._scale = self._standardisation(rows[seen], repeats[seen])
        if self.groups_column is None:
            self.group_labels_ = np.zeros(0)
        else:
            self.group_labels_ = np.unique(rows[seen, self.groups_column])
        design, P, levels = self._design(rows)
        absorbed = None
        sd_priors = {name: LogNormalPrior(*pair) for name, pair in (self.sd_priors or {}).items()}
        if self.groups_column is not None:
            names = group_component_names(self.group_slopes)
            priors = {name: sd_priors[name] for name in names if name in sd_priors}
            absorbed = AbsorbedFactor(np.maximum(levels, 0), P, names, priors, len(self.group_labels_))
        model = mixed_model(
            checked[1], design, self._blocks(rows.shape[1], sd_priors),
            absorbed=absorbed, repeats=repeats, residual_prior=sd_priors.get("residual"),
            criterion=self.criterion,
        )  # fmt: skip
        fit = estimate(model)
        self.posterior_ = (
            averaged_posterior(model, draw_sds(model, fit, self.draws))
            if self.draws
            else posterior_at(model, fit.sds)
        )
        back = self._back_transformation()
        coefficients = back @ self.posterior_.coefficients
        covariance = back @ self.posterior_.covariance @ back.T
        self.intercept_ = float(coefficients[0])
        self.intercept_variance_ = float(covariance[0, 0])
        self.coef_ = coefficients[1:]
        self.coef_covariance_ = covariance[1:, 1:]
        self.group_effects_ = self.posterior_.level_means
        self.standard_deviations_ = dict(zip(fit.component_names, map(float, fit.sds), strict=True))
        self.sigma_ = self.standard_deviations_["residual"]
        self.criterion_ = fit.criterion
        self.convergence_ = fit.convergence
        return self

    def predict(self, X: ArrayLike, return_std: bool = False) -> FloatArray | tuple[FloatArray, FloatArray]:
        """Expected values (n,), and on request the standard deviation (n,) of a new observation there.

        A group never seen is predicted with the mean of the groups and the variance between them.
        """
        check_is_fitted(self)
        rows: FloatArray = validate_data(self, X, dtype=np.float64, reset=False)
        mean, variance = predict_rows(self.posterior_, *self._design(rows))
        if not return_std:
            return mean
        return mean, np.sqrt(variance + self.posterior_.residual_variance)

    def _standardisation(self, X: FloatArray, repeats: FloatArray) -> tuple[FloatArray, FloatArray]:
        centre, scale = np.zeros(X.shape[1]), np.ones(X.shape[1])
        if self.blocks is not None:
            return centre, scale
        if self.fit_intercept:
            centre = repeats @ X / repeats.sum()
        spread = np.sqrt(repeats @ (X - centre) ** 2 / repeats.sum())
        # The spread of a constant column is rounding error, and no scale.
        constant = spread <= 10.0 * np.finfo(np.float64).eps * np.abs(X).max(axis=0)
        return centre, np.where(constant, 1.0, spread)

    def _design(self, X: FloatArray) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
        """Columns (n, 1 + p), intercept first; absorbed columns (n, m); level codes (n,), -1 if unknown."""
        columns = (X - self._centre) / self._scale
        codes = np.full(len(X), -1, dtype=np.intp)
        P = np.zeros((len(X), 0))
        if self.groups_column is not None:
            labels = X[:, self.groups_column]
            position = np.minimum(np.searchsorted(self.group_labels_, labels), len(self.group_labels_) - 1)
            codes = np.where(self.group_labels_[position] == labels, position, -1)
            P = np.column_stack([np.ones(len(X)), X[:, list(self.group_slopes)]])
            columns[:, self.groups_column] = 0.0
        intercept = np.full((len(X), 1), 1.0 if self.fit_intercept else 0.0)
        return np.hstack([intercept, columns]), P, codes

    def _back_transformation(self) -> FloatArray:
        back = np.diag(np.concatenate([[1.0], 1.0 / self._scale]))
        back[0, 1:] = -self._centre / self._scale
        if self.groups_column is not None:
            back[0, 1 + self.groups_column] = 0.0
        return back

    def _blocks(
        self, feature_count: int, sd_priors: Mapping[str, LogNormalPrior]
    ) -> list[FixedBlock | RandomBlock]:
        """Blocks of the design: column j of X is column j + 1 there."""
        columns = set(range(feature_count)) - {self.groups_column}
        blocks = {SHRUNKEN: sorted(columns)} if self.blocks is None else self.blocks
        random = [
            RandomBlock(name, [j + 1 for j in block], sd_priors.get(name))
            for name, block in blocks.items()
            if block
        ]
        fixed = sorted(columns.difference(*blocks.values()))
        priors = self.priors or {}
        mean_sd = [priors.get(j, (0.0, math.inf)) for j in fixed]
        result: list[FixedBlock | RandomBlock] = [
            FixedBlock("intercept", [0]),
            FixedBlock("fixed", [j + 1 for j in fixed], [m for m, _ in mean_sd], [s for _, s in mean_sd]),
            *random,
        ]
        if self.groups_column is not None:
            result.append(FixedBlock("groups column", [self.groups_column + 1]))
        return result


def _repeats(sample_weight: ArrayLike | None, n: int) -> FloatArray:
    if sample_weight is None:
        return np.ones(n)
    weight = np.array(sample_weight, dtype=np.float64)
    if weight.ndim == 0:
        weight = np.full(n, weight)
    if weight.shape != (n,) or not np.isfinite(weight).all() or (weight < 0).any() or not weight.any():
        raise ValueError(f"sample_weight must be {n} finite numbers of at least zero, not all of them zero")
    return weight
