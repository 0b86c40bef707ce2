"""One pass over all readings, part by part, with the standard deviations of whips and readings held fixed.

Every whip's own effects are eliminated where its readings lie, so what remains are sums over the shared
columns: their size does not depend on the number of readings, and parts add up.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from threadpoolctl import threadpool_limits

from plaitlog.models.calibration.calibrated import SLOTS, WHIP_COMPONENTS
from plaitlog.models.calibration.design import Columns, Design, Designer
from plaitlog.models.calibration.packed import Array, Index, pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.prepared import DOUBT
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.smooth import Smooth
from plaitlog.models.calibration.terms import both_terms, layer_terms, row_terms
from plaitlog.models.calibration.whip_effects import count_variance, whip_columns

PART = 8_000
"""Readings worked on together: their arrays stay below some 40 MB; more at once is slower."""
LEAST_PART = 2_000
"""Fewer are worked on in one go: a second thread would gain nothing."""
ROUNDS = 2
"""Times that features and diameters are brought into agreement: to 0.5 per cent in the worst stack, of which
the linearisation leaves the square."""
ROBUST_STEPS = 6
"""Reweighting steps within each whip, from weights about its median miss."""
THREADS = 2


@dataclass(frozen=True)
class Point:
    """Where the model is linearised, and the standard deviations that stay fixed.

    coefficients : by column name, 0 for a column not named. sds : component -> standard deviation, of
    "residual", "whip", "drift" and "slot".
    """

    coefficients: Mapping[str, float]
    smooth: Smooth
    sds: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Sums:
    """R'V^-1 R (P, P), R'V^-1 z (P,) and z'V^-1 z + log det V + n log 2 pi, for z = R b + whips' own + noise.

    keyed : names of the columns behind features and kernels.
    """

    keyed: tuple[str, ...]
    matrix: Array
    right: Array
    constant: float
    readings: int


def added(parts: Iterable[Sums]) -> Sums:
    """Sums over the readings of all parts, of which there is at least one; their columns may differ."""
    keyed: dict[str, int] = {}
    matrix, right = np.zeros((0, 0)), np.zeros(0)
    constant, readings = 0.0, 0
    for part in parts:
        dense = len(part.right) - len(part.keyed)
        places = [keyed.setdefault(name, len(keyed)) for name in part.keyed]
        at = np.array([*range(dense), *(dense + place for place in places)], dtype=np.intp)
        if dense + len(keyed) > len(right):
            wider = dense + len(keyed) - len(right)
            matrix, right = np.pad(matrix, (0, wider)), np.pad(right, (0, wider))
        matrix[np.ix_(at, at)] += part.matrix
        right[at] += part.right
        constant += part.constant
        readings += part.readings
    order = sorted(keyed)
    dense = len(right) - len(keyed)
    at = np.array([*range(dense), *(dense + keyed[name] for name in order)], dtype=np.intp)
    return Sums(tuple(order), matrix[np.ix_(at, at)], right[at], constant, readings)


@dataclass(frozen=True, eq=False)
class Pass:
    """What one pass gives beside the sums, per reading in the order of the data.

    expected (n,): log D at the point, for a whip without effects of its own. weights, residuals (n,): robust
    weights, and what is left of log D after the whip's own effects.
    ranges (2, 6): lowest and highest layer coordinate.
    """

    sums: Sums
    expected: Array
    weights: Array
    residuals: Array
    ranges: Array


@dataclass(frozen=True, eq=False)
class LaidOut:
    """Whole whips laid out for a pass: their readings, those of each whip together, and the designer."""

    readings: Readings
    designer: Designer


def lay_out(part: Readings, smooth: Smooth, parameters: Parameters) -> LaidOut:
    packed = pack(part.stacks, parameters.geometry)
    terms = both_terms(layer_terms(packed), row_terms(part))
    return LaidOut(part, Designer(packed, terms, Columns(terms.occurring(), smooth), parameters))


def in_parts(data: Readings) -> list[Index]:
    """Which readings are worked on together: whole whips, about ``PART`` readings, or half of fewer."""
    order = np.argsort(data.whip, kind="stable")
    size = min(PART, max(len(data) // THREADS, LEAST_PART))
    return [order[low:high] for low, high in _parts(data.whip[order], size)]


def laid_out(data: Readings, smooth: Smooth, parameters: Parameters) -> list[LaidOut]:
    """Readings of which several passes are made."""
    return [lay_out(data.rows(part), smooth, parameters) for part in in_parts(data)]


def full_pass(
    data: Readings, point: Point, parameters: Parameters, laid: Sequence[LaidOut] | None = None
) -> Pass:
    """Sums over all readings, linearised at ``point``; whole whips are worked on together.

    laid : the data ``laid_out`` with the smooth of the point, where several passes are made.
    """
    chosen = in_parts(data)
    expected, weights, residuals = (np.empty(len(data)) for _ in range(3))
    ranges = np.array([np.full(6, np.inf), np.full(6, -np.inf)])

    def work(k: int) -> Pass:
        part = lay_out(data.rows(chosen[k]), point.smooth, parameters) if laid is None else laid[k]
        names = part.designer.columns.names
        coefficients = np.array([point.coefficients.get(name, 0.0) for name in names])
        return pass_of(part, coefficients, point.sds, parameters)

    def kept(found: Iterable[Pass]) -> Iterator[Sums]:
        for at, part in zip(chosen, found, strict=True):
            expected[at], weights[at], residuals[at] = part.expected, part.weights, part.residuals
            ranges[0] = np.minimum(ranges[0], part.ranges[0])
            ranges[1] = np.maximum(ranges[1], part.ranges[1])
            yield part.sums

    numbers = range(len(chosen))
    if len(chosen) == 1:
        return Pass(added(kept(map(work, numbers))), expected, weights, residuals, ranges)
    # Large array operations let other threads run; two of them use both cores of a small machine.
    with threadpool_limits(1), ThreadPoolExecutor(THREADS) as pool:
        sums = added(kept(pool.map(work, numbers)))
    return Pass(sums, expected, weights, residuals, ranges)


def _parts(whip: NDArray[np.integer], size: int) -> Iterator[tuple[int, int]]:
    """Bounds of parts of about so many readings that end with a whip; ``whip`` ascends."""
    ends = np.flatnonzero(np.diff(whip, append=-1)) + 1
    low = 0
    while low < len(whip):
        high = int(ends[min(int(np.searchsorted(ends, low + size)), len(ends) - 1)])
        yield low, high
        low = high


def pass_of(laid: LaidOut, coefficients: Array, sds: Mapping[str, float], parameters: Parameters) -> Pass:
    """The pass over readings laid out, at coefficients (P,) of their columns."""
    part, designer = laid.readings, laid.designer
    packed, columns = designer.packed, designer.columns
    design = designer.at(coefficients, rounds=ROUNDS)
    response = np.log(part.diameter_mm) - design.working
    dense = design.dense.shape[1]
    missed = response - design.dense @ coefficients[:dense] - design.keyed @ coefficients[dense:]
    known = (parameters.caliper_mm / design.resolved.diameter) ** 2
    known += count_variance(packed, design, parameters.gamma)
    own = whip_columns(packed, design, part.at_mm, SLOTS) * whip_sds(sds)
    doubt = np.where(part.doubtful, DOUBT, 1.0)
    whips = _Whips(part.whip, own, sds["residual"] ** 2 + known, doubt, parameters.freedom)
    weights, residuals = whips.robust(missed)
    sums = whips.sums(design, response, columns.keyed, weights)
    points = designer.strands.moved_points(design.resolved)
    ranges = np.array([points.min(axis=0), points.max(axis=0)])
    return Pass(sums, np.log(part.diameter_mm) - missed, weights, residuals, ranges)


def whip_sds(sds: Mapping[str, float]) -> Array:
    """Standard deviations of a whip's own effects, in the order of ``whip_columns``."""
    pull, drift, slot = (sds[name] for name in WHIP_COMPONENTS)
    return np.array([pull, drift, *[slot] * SLOTS])


class _Whips:
    """Readings by whip; whips with equally many readings are worked on as one stack of small matrices."""

    def __init__(
        self, whip: NDArray[np.integer], own: Array, variance: Array, doubt: Array, freedom: float
    ) -> None:
        starts = np.flatnonzero(np.diff(whip, prepend=-1))
        sizes = np.diff(starts, append=len(whip))
        self.number = np.repeat(np.arange(len(starts)), sizes)
        self.alike = [
            (whips, starts[whips][:, None] + np.arange(size))
            for size in np.unique(sizes)
            for whips in [np.flatnonzero(sizes == size)]
        ]
        self.own, self.variance, self.doubt, self.freedom = own, variance, doubt, freedom

    def robust(self, missed: Array) -> tuple[Array, Array]:
        """Student-t weights (n,), and residuals (n,) after the whip's own effects."""
        weights, residuals = np.empty(len(missed)), np.empty(len(missed))
        one = np.eye(self.own.shape[1])
        for _, rows in self.alike:
            own, variance, doubt, miss = self.own[rows], self.variance[rows], self.doubt[rows], missed[rows]
            left = miss - np.median(miss, axis=1, keepdims=True)
            for _ in range(ROBUST_STEPS):
                weight = (self.freedom + 1) / (self.freedom + left**2 / variance) / doubt
                scaled = own * (weight / variance)[:, :, None]
                inside = scaled.transpose(0, 2, 1) @ own + one
                effects = np.linalg.solve(inside, scaled.transpose(0, 2, 1) @ miss[:, :, None])
                left = miss - (own @ effects)[:, :, 0]
            weights[rows] = (self.freedom + 1) / (self.freedom + left**2 / variance) / doubt
            residuals[rows] = left
        return weights, residuals

    def sums(self, design: Design, response: Array, keyed: tuple[str, ...], weights: Array) -> Sums:
        """Sums of the shared columns once the whips' own effects are eliminated.

        V^-1 = W - W P (I + P'W P)^-1 P'W, with W the row precisions and P the scaled columns of a whip's own
        effects; among keyed columns it is worked out in the few that each whip has.
        """
        local, named = _local(design.keyed, self.number)
        together = np.hstack([design.dense, response[:, None]])
        precise = np.empty_like(together)  # V^-1 times dense columns and response
        among = np.zeros(len(keyed) ** 2)
        log_determinant = float(np.log(self.variance / weights).sum())
        one = np.eye(self.own.shape[1])
        for whips, rows in self.alike:
            root = np.sqrt(weights[rows] / self.variance[rows])[:, :, None]
            own, dense, mine = self.own[rows] * root, together[rows] * root, local[rows] * root
            across = own.transpose(0, 2, 1)
            lower = np.linalg.cholesky(across @ own + one)
            log_determinant += 2.0 * float(np.log(np.einsum("lii->li", lower)).sum())
            inverse = np.linalg.inv(lower)
            half = inverse @ (across @ mine)
            gram = mine.transpose(0, 2, 1) @ mine - half.transpose(0, 2, 1) @ half
            effects = inverse.transpose(0, 2, 1) @ (inverse @ (across @ dense))
            precise[rows] = (dense - own @ effects) * root
            names = named[whips]
            cells = (names[:, :, None] * len(keyed) + names[:, None, :]).ravel()
            among += np.bincount(cells, gram.ravel(), len(keyed) ** 2)
        inner = together.T @ precise
        outer = design.keyed.T @ precise
        matrix = np.block(
            [[inner[:-1, :-1], outer[:, :-1].T], [outer[:, :-1], among.reshape(len(keyed), len(keyed))]]
        )
        right = np.concatenate([inner[:-1, -1], outer[:, -1]])
        constant = float(inner[-1, -1]) + log_determinant + len(response) * float(np.log(2 * np.pi))
        return Sums(keyed, (matrix + matrix.T) / 2, right, constant, len(response))


def _local(keyed: csr_array, number: Index) -> tuple[Array, Index]:
    """Keyed columns (n, c) as each whip sees them, and which column each is (whips, c).

    A whip has few of all the levels: c is the most that any has; unused places hold zeros and point to the
    first column.
    """
    row = np.repeat(np.arange(keyed.shape[0]), np.diff(keyed.indptr))
    whip_count, columns = int(number[-1]) + 1, keyed.shape[1]
    there = np.zeros((whip_count, columns), dtype=bool)
    there[number[row], keyed.indices] = True
    place = np.cumsum(there, axis=1, dtype=np.int32) - 1
    width = int(place[:, -1].max()) + 1 if columns else 0
    whip, column = np.nonzero(there)
    named = np.zeros((whip_count, width), dtype=np.intp)
    named[whip, place[whip, column]] = column
    mine = place[number[row], keyed.indices]
    local = np.zeros((keyed.shape[0], width))
    local[row, mine] = keyed.data
    return local, named
