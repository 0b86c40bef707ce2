"""Average information: the curvature of the criterion at the price of a few solves with the factor at hand.

Gilmour, Thompson & Cullis (1995), Biometrics 51: the mean of observed and expected information about the
parameters of V is y'P V_k P V_l P y / 2, with V_k the derivative of V; here for -2 log likelihood, so without
the half, and for log standard deviations. P y is the weighted residual, so V_k P y is twice what component k
contributes to the fitted values.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve

from plaitlog.models.calibration.mixed.absorbed import Elimination
from plaitlog.models.calibration.mixed.mixed_model import LinearMixedModel
from plaitlog.models.calibration.mixed.sums import level_sums

FloatArray = NDArray[np.float64]


def average_information(model: LinearMixedModel, sds: FloatArray, solution: Elimination) -> FloatArray:
    """(components, components), positive semidefinite, prior curvature included."""
    F = _working_rows(model, sds, solution)
    weight = model.repeats * model.precision_weight / solution.row_variance
    weighted = F * weight[:, None]
    information = weighted.T @ (F - _fitted(model, solution, weighted))
    for k, prior in enumerate(model.priors):
        if prior is not None:
            information[k, k] += 2.0 / prior.log_sd**2
    result: FloatArray = 0.5 * (information + information.T)
    return result


def _working_rows(model: LinearMixedModel, sds: FloatArray, solution: Elimination) -> FloatArray:
    q = len(model.penalised)
    chosen = np.zeros((q, len(sds)))
    unknown = np.flatnonzero(model.column_component >= 0)
    chosen[unknown, model.column_component[unknown]] = 2.0 * (solution.scale[:q] * solution.v[:q])[unknown]
    F: FloatArray = model.U[:, :q] @ chosen
    effects = (
        model.P * (2.0 * solution.absorbed_scale * solution.a)[model.levels] if model.level_count else model.P
    )
    for j, component in enumerate(model.absorbed_component):
        F[:, component] += effects[:, j]
    F[:, 0] += 2.0 * sds[0] ** 2 * solution.residuals / solution.row_variance
    return F


def _fitted(model: LinearMixedModel, solution: Elimination, weighted: FloatArray) -> FloatArray:
    """Penalised fit to every column of F (n, k), given the rows W F."""
    n, k = weighted.shape
    m, level_count = len(model.absorbed_component), model.level_count
    right = solution.scale[:, None] * (model.U.T @ weighted)
    if level_count:
        products = (model.P[:, :, None] * weighted[:, None, :]).reshape(n, m * k)
        d = level_sums(products, model.starts).reshape(level_count, m, k) * solution.absorbed_scale[:, None]
        right -= np.tensordot(solution.gain, d, axes=((0, 1), (0, 1)))
        v = cho_solve((solution.lower, True), right)
        a = solution.inverse @ d - solution.gain @ v
        rows = (solution.absorbed_scale[:, None] * a)[model.levels]
        absorbed = np.einsum("im,imk->ik", model.P, rows)
    else:
        v = cho_solve((solution.lower, True), right)
        absorbed = 0.0
    fitted: FloatArray = model.U @ (solution.scale[:, None] * v) + absorbed
    return fitted
