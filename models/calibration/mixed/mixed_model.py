"""The statement of a linear mixed model with independent variance components.

    y_i = x_i'b + p_i'a[level_i] + e_i,      e_i ~ N(0, (sigma^2 + known_i) / weight_i)

The columns of X belong to named blocks. *Fixed* columns have a flat prior or a normal one with given mean and
sd; the coefficients of a *random* block are independent N(0, s^2) with one unknown s per block, whatever its
columns hold (dummies, shares, slopes, kernel features). One large grouping factor may be *absorbed*: each row
belongs to exactly one level and has m coefficients p_i (m small); the effects of each column are independent
N(0, s^2) over levels.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from plaitlog.models.calibration.mixed.sums import Sums, group_starts, weighted_sums

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Criterion = Literal["reml", "ml"]
RESIDUAL = "residual"


@dataclass(frozen=True)
class LogNormalPrior:
    """A standard deviation whose logarithm is normal about log(median) with standard deviation log_sd."""

    median: float
    log_sd: float

    def __post_init__(self) -> None:
        if not (0 < self.median < math.inf and 0 < self.log_sd < math.inf):
            raise ValueError(f"a log-normal prior needs a positive finite median and log_sd, got {self}")


@dataclass(frozen=True)
class FixedBlock:
    """Columns with a normal prior; sd = inf is a flat prior. Mean and sd: one number or one per column."""

    name: str
    columns: Sequence[int]
    mean: float | Sequence[float] = 0.0
    sd: float | Sequence[float] = math.inf


@dataclass(frozen=True)
class RandomBlock:
    """Columns whose coefficients are independent N(0, s^2) with one unknown s, named like the block."""

    name: str
    columns: Sequence[int]
    prior: LogNormalPrior | None = None


@dataclass(frozen=True)
class AbsorbedFactor:
    """A grouping factor eliminated level by level.

    levels: (n,) codes 0 .. level_count - 1. columns: (n, m) coefficients of the row in its level's m effects.
    names: m component names; columns with the same name share one standard deviation.
    """

    levels: ArrayLike
    columns: ArrayLike
    names: Sequence[str]
    priors: Mapping[str, LogNormalPrior] = field(default_factory=dict)
    level_count: int | None = None


@dataclass(frozen=True)
class LinearMixedModel:
    """A validated model, its rows sorted by level and its columns arranged for the elimination.

    Made by `mixed_model`. `component_names[0]` is "residual"; vectors of standard deviations have this order.
    The columns of `U` are the penalised ones (random or with a normal prior), then an orthonormal basis Q of
    the flat ones (F = Q T), which keeps the cross products well conditioned whatever the flat columns are.
    """

    component_names: tuple[str, ...]
    priors: tuple[LogNormalPrior | None, ...]
    criterion: Criterion
    y: FloatArray  # (n,) less the prior means
    U: FloatArray  # (n, q + f)
    P: FloatArray  # (n, m)
    levels: IntArray  # (n,) ascending
    starts: IntArray  # (level_count + 1,) first row of every level
    known_variance: FloatArray  # (n,)
    precision_weight: FloatArray  # (n,)
    repeats: FloatArray  # (n,) how many identical rows a row stands for
    column_component: IntArray  # (q,) component of a penalised column, -1 where its sd is known
    column_sd: FloatArray  # (q,) the known sd, 1 where unknown
    absorbed_component: IntArray  # (m,)
    penalised: IntArray  # (q,) positions in the caller's X
    flat: IntArray  # (f,) positions in the caller's X of the flat columns kept
    aliased: IntArray  # positions of the flat columns that are sums of earlier ones (coefficient 0)
    T: FloatArray  # (f, f)
    prior_mean: FloatArray  # (columns of X,)
    base: Sums | None  # sums with weight repeats * precision_weight, when no variance is known

    @property
    def size(self) -> float:
        """Number of rows, repeats counted."""
        return float(self.repeats.sum())

    @property
    def level_count(self) -> int:
        return len(self.starts) - 1


def mixed_model(
    y: ArrayLike,
    X: ArrayLike,
    blocks: Sequence[FixedBlock | RandomBlock],
    *,
    absorbed: AbsorbedFactor | None = None,
    weights: ArrayLike | None = None,
    known_variance: ArrayLike | None = None,
    repeats: ArrayLike | None = None,
    residual_prior: LogNormalPrior | None = None,
    criterion: Criterion = "reml",
) -> LinearMixedModel:
    """Validate the statement of a model and prepare its sums. Inputs are not changed.

    y (n,), X (n, p) finite; every column of X in exactly one block. weights (n,) > 0 divide the whole row
    variance; known_variance (n,) >= 0 in squared units of y; repeats (n,) >= 0 count identical rows (0 leaves
    a row out).
    Raises ValueError naming the argument at fault.
    """
    if criterion not in ("reml", "ml"):
        raise ValueError(f'criterion must be "reml" or "ml", got {criterion!r}')
    y_all = np.array(y, dtype=np.float64)
    X_all = np.array(X, dtype=np.float64)
    n = len(y_all)
    if y_all.ndim != 1 or X_all.ndim != 2 or len(X_all) != n:
        raise ValueError(f"y must be (n,) and X (n, p), got {y_all.shape} and {X_all.shape}")
    w = _row_vector("weights", weights, n, 1.0)
    tau = _row_vector("known_variance", known_variance, n, 0.0)
    count = _row_vector("repeats", repeats, n, 1.0)
    if not (np.isfinite(y_all).all() and np.isfinite(X_all).all()):
        raise ValueError("y and X must be finite")
    if (w <= 0).any() or (tau < 0).any() or (count < 0).any():
        raise ValueError("weights must be positive, known_variance and repeats not negative")

    names: list[str] = [RESIDUAL]
    priors: list[LogNormalPrior | None] = [residual_prior]
    component = np.full(
        X_all.shape[1], -2, dtype=np.intp
    )  # -2 flat, -1 known sd, else index of the component
    sd = np.ones(X_all.shape[1])
    mean = np.zeros(X_all.shape[1])
    used = np.zeros(X_all.shape[1], dtype=np.intp)
    for block in blocks:
        columns = np.asarray(block.columns, dtype=np.intp)
        used[columns] += 1
        if isinstance(block, RandomBlock):
            component[columns] = _component(block.name, block.prior, names, priors)
            continue
        block_sd = np.broadcast_to(np.asarray(block.sd, dtype=np.float64), columns.shape)
        if not (block_sd > 0).all():
            raise ValueError(f"block {block.name}: a prior sd must be positive (inf for a flat prior)")
        informative = np.isfinite(block_sd)
        component[columns[informative]] = -1
        sd[columns[informative]] = block_sd[informative]
        block_mean = np.broadcast_to(np.asarray(block.mean, dtype=np.float64), columns.shape)
        mean[columns[informative]] = block_mean[informative]
    if (used != 1).any():
        raise ValueError(
            f"every column of X belongs to exactly one block; look at columns {np.flatnonzero(used != 1)}"
        )

    levels, P, level_count, absorbed_component = _absorbed(absorbed, n, names, priors)
    rows = np.flatnonzero(count > 0)
    rows = rows[np.argsort(levels[rows], kind="stable")]
    y_all, X_all, P, levels = y_all[rows] - X_all[rows] @ mean, X_all[rows], P[rows], levels[rows]
    w, tau, count = w[rows], tau[rows], count[rows]

    penalised = np.flatnonzero(component >= -1)
    flat, aliased, Q, T = _orthonormal(X_all, np.flatnonzero(component == -2), np.sqrt(w * count))
    U = np.ascontiguousarray(np.hstack([X_all[:, penalised], Q]))
    starts = group_starts(levels, level_count)
    base = None if tau.any() else weighted_sums(U, P, y_all, starts, w * count)
    return LinearMixedModel(
        tuple(names), tuple(priors), criterion, y_all, U, P, levels, starts, tau, w, count,
        component[penalised], sd[penalised], absorbed_component, penalised, flat, aliased, T, mean, base,
    )  # fmt: skip


def _row_vector(name: str, value: ArrayLike | None, n: int, default: float) -> FloatArray:
    vector = np.full(n, default) if value is None else np.array(value, dtype=np.float64)
    if vector.shape != (n,) or not np.isfinite(vector).all():
        raise ValueError(f"{name} must hold {n} finite numbers, one per row")
    return vector


def _component(
    name: str, prior: LogNormalPrior | None, names: list[str], priors: list[LogNormalPrior | None]
) -> int:
    if name in names:
        raise ValueError(f"two variance components are called {name!r}")
    names.append(name)
    priors.append(prior)
    return len(names) - 1


def _absorbed(
    absorbed: AbsorbedFactor | None, n: int, names: list[str], priors: list[LogNormalPrior | None]
) -> tuple[IntArray, FloatArray, int, IntArray]:
    if absorbed is None:
        return np.zeros(n, dtype=np.intp), np.zeros((n, 0)), 0, np.zeros(0, dtype=np.intp)
    levels = np.array(absorbed.levels, dtype=np.intp)
    P = np.array(absorbed.columns, dtype=np.float64)
    level_count = int(levels.max(initial=-1)) + 1 if absorbed.level_count is None else absorbed.level_count
    if levels.shape != (n,) or P.shape != (n, len(absorbed.names)) or not np.isfinite(P).all():
        raise ValueError("an absorbed factor needs a level and one finite number per name for every row")
    if levels.min(initial=0) < 0 or levels.max(initial=-1) >= level_count:
        raise ValueError(f"levels must lie between 0 and {level_count - 1}")
    if not set(absorbed.priors) <= set(absorbed.names):
        raise ValueError(f"priors for unknown components: {set(absorbed.priors) - set(absorbed.names)}")
    position = {
        name: _component(name, absorbed.priors.get(name), names, priors)
        for name in dict.fromkeys(absorbed.names)
    }
    return levels, P, level_count, np.array([position[name] for name in absorbed.names], dtype=np.intp)


def _orthonormal(
    X: FloatArray, columns: IntArray, root_weight: FloatArray
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Kept and aliased columns, Q with Q'WQ = I, and T with X[:, kept] = Q T."""
    F = X[:, columns] * root_weight[:, None]
    norm = np.linalg.norm(F, axis=0)
    F = F / np.where(norm > 0, norm, 1.0)
    # A column is aliased when what the earlier ones leave of it is rounding error.
    tolerance = max(F.shape) * np.finfo(np.float64).eps if F.size else 0.0
    keep: list[int] = []
    basis = np.zeros((len(F), 0))
    Q, R = np.linalg.qr(F)
    if F.shape[1] <= len(F) and (np.abs(np.diag(R)) > tolerance).all():
        keep = list(range(F.shape[1]))
    else:
        for j in range(F.shape[1]):
            rest = F[:, j] - basis @ (basis.T @ F[:, j])
            rest -= basis @ (basis.T @ rest)  # twice is enough (Giraud, Langou & Rozloznik 2005)
            size = float(np.linalg.norm(rest))
            if size > tolerance:
                keep.append(j)
                basis = np.column_stack([basis, rest / size])
        Q, R = np.linalg.qr(F[:, keep])
    T = R * norm[keep]
    dropped = np.setdiff1d(np.arange(len(columns)), keep)
    return columns[keep], columns[dropped], Q / root_weight[:, None], T
