"""Three plain ways to guess a diameter, that the diameter model is measured against on the same readings.

Geometry alone; geometry times the mean ratio of the outer cord, as a spreadsheet would; gradient boosting on
the columns of the model's own design. Each gives log D and a standard deviation, learnt from these readings.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Final, Protocol, Self

import numpy as np
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.design import FEATURES, layer_features
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.packed import ABSENT, PLAIT, Array, pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.geometry import geometric_diameter
from plaitlog.models.stack import Stack

UNTAUGHT_SD: Final = 0.10
"""Spread of log D given to a rival with fewer than two readings: geometry is right to some ten per cent."""

Rows = Sequence[Observation] | Sequence[Query]


class Rival(Protocol):
    """Fitted on observations; predicts log D (n,) and its standard deviation (n,) or one number."""

    name: str

    def fit(self, observations: Sequence[Observation]) -> Self: ...

    def predict(self, rows: Rows) -> tuple[Array, Array]: ...


def log_geometry(rows: Rows) -> Array:
    """Log of the diameter by geometry alone, (n,)."""
    return np.log([geometric_diameter(row.stack).diameter_mm for row in rows])


def _log_ratios(observations: Sequence[Observation]) -> Array:
    measured = np.log([observation.diameter_mm for observation in observations])
    return np.asarray(measured - log_geometry(observations))


def _spread(residuals: Array) -> float:
    return float(np.sqrt(np.mean(residuals**2))) if len(residuals) > 1 else UNTAUGHT_SD


class GeometryAlone:
    """No whip teaches it a diameter; they only tell how far off it is."""

    name = "geometry alone"

    def fit(self, observations: Sequence[Observation]) -> Self:
        self.sd_ = _spread(_log_ratios(observations)) if observations else UNTAUGHT_SD
        return self

    def predict(self, rows: Rows) -> tuple[Array, Array]:
        return log_geometry(rows), np.full(len(rows), self.sd_)


class OuterCordRatio:
    """Geometry times the mean ratio of measured to geometric diameter under the same outer cord.

    A cord with no reading takes the mean over all readings.
    """

    name = "mean ratio of the outer cord"

    def fit(self, observations: Sequence[Observation]) -> Self:
        ratios = _log_ratios(observations) if observations else np.zeros(0)
        by_cord: dict[str, list[float]] = defaultdict(list)
        for observation, ratio in zip(observations, ratios.tolist(), strict=True):
            by_cord[outer_cord(observation.stack)].append(ratio)
        self.mean_ = float(ratios.mean()) if len(ratios) else 0.0
        self.ratios_ = {cord: float(np.mean(found)) for cord, found in by_cord.items()}
        fitted = [self.ratios_[outer_cord(observation.stack)] for observation in observations]
        self.sd_ = _spread(ratios - np.array(fitted))
        return self

    def predict(self, rows: Rows) -> tuple[Array, Array]:
        ratio = np.array([self.ratios_.get(outer_cord(row.stack), self.mean_) for row in rows])
        return log_geometry(rows) + ratio, np.full(len(rows), self.sd_)


def outer_cord(stack: Stack) -> str:
    """Name of the cord with most strands in the outermost layer that has any; empty where none has."""
    for layer in reversed(stack.layers):
        if layer.groups:
            return max(layer.groups, key=lambda group: group.count.mid).cord.name
    return ""


class Boosting:
    """Gradient boosting of the log ratio to geometry (scikit-learn), tuned by inner folds grouped by whip.

    The grid is leaves per tree, the number of trees read off the staged predictions of the same folds. A finer
    grid with more and deeper trees came no nearer on simulated workshops of 20 and 60 whips.
    """

    name = "gradient boosting"
    leaves = (3, 8)
    most_trees = 150
    step = 10
    learning_rate = 0.12
    inner_folds = 3

    def __init__(self, random_state: int = 0) -> None:
        self.random_state = random_state

    def fit(self, observations: Sequence[Observation]) -> Self:
        # Trees this small lose more to handing work between threads than they gain.
        with threadpool_limits(1):
            return self._fit(observations)

    def _fit(self, observations: Sequence[Observation]) -> Self:
        self.columns_ = LayerColumns().fit(observations)
        self.fitted_: Any = None
        self.sd_ = UNTAUGHT_SD
        groups = np.array([observation.whip for observation in observations])
        if len(set(groups.tolist())) < 2:
            return self
        X, y = self.columns_.transform(observations), _log_ratios(observations)
        leaves, trees, self.sd_ = self._tuned(X, y, groups)
        self.fitted_ = self._regressor(leaves, trees).fit(X, y)
        return self

    def _regressor(self, leaves: int, trees: int) -> Any:
        from sklearn.ensemble import HistGradientBoostingRegressor

        return HistGradientBoostingRegressor(
            learning_rate=self.learning_rate,
            max_iter=trees,
            max_leaf_nodes=leaves,
            max_bins=64,
            min_samples_leaf=10,
            l2_regularization=1.0,
            early_stopping=False,
            random_state=self.random_state,
        )

    def _tuned(self, X: Array, y: Array, groups: Any) -> tuple[int, int, float]:
        from sklearn.model_selection import GroupKFold

        folds = min(self.inner_folds, len(set(groups.tolist())))
        kept = np.arange(self.step - 1, self.most_trees, self.step)
        squares = {leaves: np.zeros(len(kept)) for leaves in self.leaves}
        for train, test in GroupKFold(folds).split(X, y, groups):
            for leaves in self.leaves:
                grown = self._regressor(leaves, self.most_trees).fit(X[train], y[train])
                stages = np.array(list(grown.staged_predict(X[test])))[kept]
                squares[leaves] += np.sum((stages - y[test]) ** 2, axis=1)
        best = min(self.leaves, key=lambda leaves: float(squares[leaves].min()))
        place = int(squares[best].argmin())
        return best, int(kept[place]) + 1, float(np.sqrt(squares[best][place] / len(y)))

    def predict(self, rows: Rows) -> tuple[Array, Array]:
        ratio = np.zeros(len(rows))
        if self.fitted_ is not None and len(rows):
            ratio = self.fitted_.predict(self.columns_.transform(rows))
        return log_geometry(rows) + ratio, np.full(len(rows), self.sd_)


class LayerColumns:
    """One row of numbers a stack: what the model's design knows of it, without the model.

    The layer features weighted by each layer's part in log D; the same part per cord and role, per maker,
    condition; the outermost layer's own geometry.
    """

    def fit(self, observations: Sequence[Observation]) -> Self:
        self.cords_ = sorted({cord.name for o in observations for cord in o.stack.cords})
        self.makers_ = sorted({o.maker or "" for o in observations})
        self.conditions_ = sorted({o.condition or "" for o in observations})
        return self

    def transform(self, rows: Rows) -> Array:
        """(n, columns); cords, makers and conditions that were not there at ``fit`` have no column."""
        parameters = Parameters()
        packed = pack([row.stack for row in rows], parameters.geometry)
        n, depth = packed.kind.shape
        resolved = resolve(packed, np.zeros((n, depth)), parameters.geometry)
        strands = (packed.kind > ABSENT) & (packed.kind <= PLAIT)
        features = layer_features(packed, resolved, parameters) * strands[..., None]
        summed = np.einsum("nl,nlk->nk", resolved.jacobian, features)
        place = {name: k for k, name in enumerate(self.cords_)}
        by_cord = np.zeros((n, 2 * len(place)))
        for row, layer, cord, share in zip(
            packed.group_row, packed.group_layer, packed.group_cord, packed.group_share, strict=True
        ):
            k = place.get(packed.cords[cord].cord.name)
            if k is not None:
                plaited = packed.kind[row, layer] == PLAIT
                by_cord[row, 2 * k + plaited] += share * resolved.jacobian[row, layer]
        last = np.maximum(depth - 1 - np.argmax(strands[:, ::-1], axis=1), 0)
        at = (np.arange(n), last)
        outer = np.stack(
            [
                np.log(resolved.diameter),
                resolved.pulled,
                strands.sum(axis=1),
                np.log1p(resolved.inner[at]),
                np.log(np.maximum(packed.count[at], 1.0)),
                resolved.jacobian[at],
            ],
            axis=1,
        )
        known = [[float((r.maker or "") == x) for x in self.makers_] for r in rows]
        states = [[float((r.condition or "") == x) for x in self.conditions_] for r in rows]
        inner = np.array([[float(r.inner)] for r in rows])
        return np.hstack([summed, features[at], by_cord, outer, np.array(known), np.array(states), inner])

    @property
    def width(self) -> int:
        """Number of columns."""
        return 2 * len(FEATURES) + 2 * len(self.cords_) + 6 + len(self.makers_) + len(self.conditions_) + 1


def all_rivals(random_state: int = 0) -> tuple[Rival, ...]:
    return GeometryAlone(), OuterCordRatio(), Boosting(random_state)
