"""Three plain ways to guess a diameter, that the diameter model is measured against on the same readings.

Geometry alone; geometry times the mean ratio of the outer cord, as a spreadsheet would; gradient boosting on
the columns of the model's own design. Each gives log D and a standard deviation, learnt from these readings.
"""

from collections import defaultdict
from collections.abc import Sequence
from itertools import islice
from typing import Any, Final, Protocol, Self

import numpy as np
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.design import Columns, Designer
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.calibration.packed import ABSENT, PLAIT, Array, PackedStacks, pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.readings import levels
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.calibration.smooth import SCALES, smooth_at
from plaitlog.models.calibration.terms import KeyedTerms, both_terms, layer_terms, row_terms
from plaitlog.models.stack import Stack

UNTAUGHT_SD: Final = 0.10
"""Spread of log D given to a rival with fewer than two readings: geometry is right to some ten per cent."""

LEAST_SD: Final = 0.005
"""Nobody may claim to be nearer than a caliper reading of 0.05 mm on 10 mm."""

Rows = Sequence[Observation] | Sequence[Query]


class Rival(Protocol):
    """Fitted on observations; predicts log D (n,) and its standard deviation (n,) or one number."""

    name: str

    def fit(self, observations: Sequence[Observation]) -> Self: ...

    def predict(self, rows: Rows) -> tuple[Array, Array]: ...


def log_geometry(rows: Rows) -> Array:
    """Log of the diameter by geometry alone, (n,)."""
    constants = Parameters().geometry
    packed = pack([row.stack for row in rows], constants)
    return np.asarray(np.log(resolve(packed, np.zeros(packed.kind.shape), constants).diameter))


def _log_ratios(observations: Sequence[Observation]) -> Array:
    measured = np.log([observation.diameter_mm for observation in observations])
    return np.asarray(measured - log_geometry(observations))


def _spread(residuals: Array) -> float:
    return max(float(np.sqrt(np.mean(residuals**2))), LEAST_SD) if len(residuals) > 1 else UNTAUGHT_SD


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

    From ``many`` readings on only the first of these folds is worked out: it judges a thousand readings. The
    grid is leaves per tree, the number of trees read off the staged predictions of the same folds. A grid
    with more and deeper trees came no nearer on simulated workshops of 20 and 60 whips.
    """

    name = "gradient boosting"
    leaves = (3, 8)
    most_trees = 150
    step = 10
    learning_rate = 0.12
    inner_folds = 3
    many = 4_000

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
        judged = 0
        splits = GroupKFold(folds).split(X, y, groups)
        for train, test in islice(splits, folds if len(y) < self.many else 1):
            judged += len(test)
            for leaves in self.leaves:
                grown = self._regressor(leaves, self.most_trees).fit(X[train], y[train])
                stages = np.array(list(grown.staged_predict(X[test])))[kept]
                squares[leaves] += np.sum((stages - y[test]) ** 2, axis=1)
        best = min(self.leaves, key=lambda leaves: float(squares[leaves].min()))
        place = int(squares[best].argmin())
        return best, int(kept[place]) + 1, max(float(np.sqrt(squares[best][place] / judged)), LEAST_SD)

    def predict(self, rows: Rows) -> tuple[Array, Array]:
        ratio = np.zeros(len(rows))
        if self.fitted_ is not None and len(rows):
            ratio = self.fitted_.predict(self.columns_.transform(rows))
        return log_geometry(rows) + ratio, np.full(len(rows), self.sd_)


class LayerColumns:
    """One row of numbers a stack: the columns of the model's design at the plain geometry (features, cords in
    their roles, material, maker, condition), and the outermost layer's own geometry."""

    kept = ("cord_role", "material", "maker", "condition", "method", "inner")

    def fit(self, observations: Sequence[Observation]) -> Self:
        terms = _terms(pack([o.stack for o in observations], Parameters().geometry), observations)
        self.keyed_ = tuple(name for name in terms.occurring() if name.partition(":")[0] in self.kept)
        return self

    def transform(self, rows: Rows) -> Array:
        """(n, columns); cords, makers and conditions that were not there at ``fit`` have no column."""
        parameters = Parameters()
        packed = pack([row.stack for row in rows], parameters.geometry)
        columns = Columns(self.keyed_, smooth_at(np.zeros((0, len(SCALES)))))
        designer = Designer(packed, _terms(packed, rows), columns, parameters)
        design = designer.at(np.zeros(len(columns.names)), rounds=0)
        resolved = design.resolved
        strands = (packed.kind > ABSENT) & (packed.kind <= PLAIT)
        last = strands.shape[1] - 1 - np.argmax(strands[:, ::-1], axis=1)
        at = (np.arange(len(rows)), last)
        outer = [
            np.log(resolved.diameter),
            resolved.pulled,
            strands.sum(axis=1),
            np.log1p(resolved.inner[at]),
            np.log(resolved.cover[at]),
            np.log(np.maximum(packed.count[at], 1.0)),
            packed.log_diameter[at],
            packed.log_packing[at],
            packed.hollow[at],
            design.response[at],
        ]
        return np.hstack([design.rows, np.stack(outer, axis=1)])


def _terms(packed: PackedStacks, rows: Rows) -> KeyedTerms:
    methods = [row.method if isinstance(row, Observation) else "caliper" for row in rows]
    of_rows = row_terms(
        levels(
            [row.maker for row in rows], [row.condition for row in rows], methods, [row.inner for row in rows]
        )
    )
    return both_terms(layer_terms(packed), of_rows)


def all_rivals(random_state: int = 0) -> tuple[Rival, ...]:
    return GeometryAlone(), OuterCordRatio(), Boosting(random_state)
