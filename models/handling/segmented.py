"""A thong that is level, then tapers, then is level again, fitted to noisy diameters along it.

``diameter = point + (thick - point) * left(u)``, u running from 0 to 1 between the two breaks. The taper is
of one of two families, ``tapers``, each with one number. The breaks are laid on a grid, coarse first and then
fine where the data allow it; thick end, point and that number follow for each pair of breaks by least squares
(Gauss-Newton), with what they leave undecided as a normal distribution (Laplace's approximation). Each
candidate keeps its posterior weight, so that uncertainty needs no resampling: a bootstrap of a break that
lies at an end of the thong would never say that there may be a parallel length after all.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from plaitlog.models.handling.tapers import FAMILIES, Family
from plaitlog.models.taper import Array

MOST_PARALLEL: Final = 0.6
"""Longest parallel end considered, as a share of the thong (own choice: twice the longest in use)."""
LEAST_TAPER: Final = 0.15
"""Shortest part that tapers, as a share of the thong (own choice)."""
COARSE, FINE = 9, 9
COARSE_ROUNDS, ROUNDS = 1, 3
FREEDOM: Final = 6.0
"""Readings' worth of trust in the stated scatter beside what the residuals say (own choice)."""
NO_PARALLEL: Final = 0.1
"""Chance, before measuring, that an end has no parallel length at all (own choice)."""
USUAL_PARALLEL: Final = 0.2
"""Mean length of a parallel end otherwise, as a share of the thong: 6 to 12 in of 4 to 7 ft (common practice,
no source); longer ones get exponentially rarer (own choice)."""
END_SPREAD: Final = 0.1
"""Sd of an end's diameter about the reading nearest to it, as a share of it. Physical reasoning: the rest of
the way to the end is short, and a thong loses about a tenth of its diameter in as much of its length."""
LEAST_LIKELY: Final = 12.0
"""Candidates whose log weight lies this far below the best are left out."""
MOST_STEP: Final = 1.6
"""Factor between neighbouring diameters beyond which one is mistyped (own choice: a lost decimal point, a
girth for a diameter are factors of 2 and more)."""
AT_ONCE: Final = 64
"""Thongs fitted together: their arrays stay in the processor's cache."""


@dataclass(frozen=True, slots=True, eq=False)
class Segments:
    """Candidates k with their posterior weights (sum 1).

    start, end : where the taper begins and ends, as shares of the thong. fullness, middle : mean share of the
    difference left over the taper, and the share left at half the length. thick, point : what fits best,
    diameters in mm; variances and covariance of the two. left : (k, n) share left at the n stations.
    scatter : how much wider the readings scatter than they were said to, 1 for as stated.
    """

    weight: Array
    start: Array
    end: Array
    fullness: Array
    middle: Array
    thick: Array
    point: Array
    thick_variance: Array
    point_variance: Array
    covariance: Array
    left: Array
    scatter: float

    def mean(self, values: Array) -> float:
        return float(self.weight @ values)

    def moments(self, values: Array, variances: Array | float = 0.0) -> tuple[float, float]:
        """Mean and sd of a mixture with one value, and one variance, for each candidate."""
        middle = self.mean(values)
        return middle, float(np.sqrt(self.weight @ ((values - middle) ** 2 + variances)))

    def quantiles(self, values: Array, at: tuple[float, ...], cell: float) -> tuple[float, ...]:
        """Quantiles of a quantity on the grid: each value stands for a cell of this width round it, except
        0, which stands for itself."""
        shown, place = np.unique(np.round(values, 9), return_inverse=True)
        mass = np.bincount(place, weights=self.weight)
        half = np.where(shown > 0, cell / 2, 0.0)
        before = np.cumsum(mass) - mass
        knots = np.column_stack([before, before + mass]).ravel()
        edges = np.column_stack([np.maximum(shown - half, 0.0), shown + half]).ravel()
        return tuple(float(np.interp(q, knots, np.maximum.accumulate(edges))) for q in at)


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """Diameters (mm) of one thong with their standard deviations, at rising shares of its length."""

    along: Array
    diameters: Array
    sds: Array


def fit_segments(thongs: Sequence[Stations]) -> list[Segments | None]:
    """Fit to each thong, of 5 stations at least; None where nothing tapers."""
    found: list[Segments | None] = []
    for first in range(0, len(thongs), AT_ONCE):
        found += _fit(thongs[first : first + AT_ONCE])
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Packed:
    """w thongs of at most m stations, padded with stations of no weight; last come one pseudo reading of the
    thick end and one of the point. y, weight : (w, m + 2). along : (w, m). number : (w,) of stations."""

    along: Array
    y: Array
    weight: Array
    number: npt.NDArray[np.intp]

    @property
    def ratio(self) -> Array:
        """Point over thick end (w,), as the readings nearest to them have it."""
        return np.clip(self.y[:, -1] / self.y[:, -2], 0.1, 0.95)


def _pack(thongs: Sequence[Stations]) -> _Packed:
    number = np.array([len(one.along) for one in thongs])
    along = np.ones((len(thongs), int(number.max())))
    y, weight = np.ones((len(thongs), along.shape[1] + 2)), np.zeros((len(thongs), along.shape[1] + 2))
    for i, one in enumerate(thongs):
        n = len(one.along)
        along[i, :n], y[i, :n], weight[i, :n] = one.along, one.diameters, 1.0 / one.sds**2
        ends = _end(one.diameters[0], one.diameters[1]), _end(one.diameters[-1], one.diameters[-2])
        y[i, -2:], weight[i, -2:] = ends, 1.0 / (END_SPREAD * np.array(ends)) ** 2
    return _Packed(along, y, weight, number)


def _end(outermost: float, next_to_it: float) -> float:
    """The outermost diameter; where it is so far off that it must be mistyped, its neighbour."""
    return outermost if 1 / MOST_STEP < outermost / next_to_it < MOST_STEP else next_to_it


@dataclass(frozen=True, slots=True, eq=False)
class _Candidates:
    """(w, k) of each thong's candidates; ``normal`` (w, k, 3, 3) of point, difference and the taper's number;
    ``left`` (w, k, m)."""

    log_weight: Array
    start: Array
    tail: Array
    fullness: Array
    middle: Array
    point: Array
    difference: Array
    misfit: Array
    normal: Array
    left: Array


def _fit(thongs: Sequence[Stations]) -> list[Segments | None]:
    packed = _pack(thongs)
    steps = np.broadcast_to(np.linspace(0.0, MOST_PARALLEL, COARSE), (len(thongs), COARSE))
    coarse = _candidates(packed, steps, steps, COARSE_ROUNDS)
    starts, tails = _closer(coarse, coarse.start, steps), _closer(coarse, coarse.tail, steps)
    fine = _candidates(packed, starts, tails)
    found = [_segments(fine, i, int(n)) for i, n in enumerate(packed.number)]
    # Many readings, or a sharp break, want a third, narrower grid.
    sharp = _is_sharp(fine, fine.start, starts) | _is_sharp(fine, fine.tail, tails)
    if sharp.any():
        few = [int(i) for i in np.flatnonzero(sharp)]
        packed = _pack([thongs[i] for i in few])
        starts = _closer(fine, fine.start, starts)[few]
        tails = _closer(fine, fine.tail, tails)[few]
        finest = _candidates(packed, starts, tails)
        for k, i in enumerate(few):
            found[i] = _segments(finest, k, int(packed.number[k])) or found[i]
    return found


def _moments(found: _Candidates, values: Array) -> tuple[Array, Array]:
    """Mean and sd (w,) of values (w, k) over the candidates."""
    best = found.log_weight.max(axis=1, keepdims=True)
    weight = np.exp(found.log_weight - np.where(np.isfinite(best), best, 0.0))
    weight /= np.maximum(weight.sum(axis=1, keepdims=True), 1e-300)
    middle = (weight * values).sum(axis=1)
    return middle, np.sqrt((weight * (values - middle[:, None]) ** 2).sum(axis=1))


def _is_sharp(found: _Candidates, values: Array, grid: Array) -> npt.NDArray[np.bool_]:
    """Whether lengths are known more closely than their grid (w, g) goes; next to 0 they need not be."""
    middle, sd = _moments(found, values)
    cell = grid[:, -1] - grid[:, -2]
    return (sd < cell) & (middle > cell / 4)


def _closer(found: _Candidates, values: Array, grid: Array) -> Array:
    """(w, FINE) lengths that are still likely, 0 itself in front where it is one of them."""
    middle, sd = _moments(found, values)
    wide = 3.0 * np.hypot(sd, (grid[:, -1] - grid[:, -2]) / 2)
    low = np.maximum(0.0, middle - wide)[:, None]
    high = np.minimum(MOST_PARALLEL, middle + wide)[:, None]
    inside = low + (high - low) * np.linspace(0.0, 1.0, FINE)
    cells = high * np.concatenate([[0.0], (np.arange(FINE - 1) + 0.5) / (FINE - 1)])
    return np.where(low > 0.0, inside, cells)


def _prior(grid: Array) -> Array:
    """Prior weights of (w, g) parallel lengths: some for none, the rest exponential."""
    cell = (grid[:, -1] - grid[:, -2]) / USUAL_PARALLEL
    weights: Array = (1.0 - NO_PARALLEL) * cell[:, None] * np.exp(-grid / USUAL_PARALLEL)
    weights[grid[:, 0] == 0.0, 0] = NO_PARALLEL
    return weights


def _candidates(packed: _Packed, starts: Array, tails: Array, rounds: int = ROUNDS) -> _Candidates:
    """All pairs of (w, g) lengths before and behind the taper, with both families of tapers."""
    w, g = starts.shape
    a, b = np.repeat(starts, g, axis=1), np.tile(tails, (1, g))
    possible = a + b <= 1.0 - LEAST_TAPER + 1e-9
    with np.errstate(divide="ignore"):
        prior = np.log(np.repeat(_prior(starts), g, axis=1) * np.tile(_prior(tails), (1, g)) * possible)
    width = np.maximum(1.0 - a - b, LEAST_TAPER)
    u = np.zeros((w, g * g, packed.y.shape[1]))
    u[:, :, :-2] = np.clip((packed.along[:, None, :] - a[:, :, None]) / width[:, :, None], 0.0, 1.0)
    u[:, :, -1] = 1.0
    half = np.clip((0.5 - a) / width, 0.0, 1.0)
    parts = [_fitted(family, packed, u, half, prior, a, b, rounds) for family in FAMILIES]
    names = _Candidates.__slots__
    return _Candidates(*(np.concatenate([getattr(part, name) for part in parts], axis=1) for name in names))


def _fitted(
    family: Family, packed: _Packed, u: Array, half: Array, prior: Array, a: Array, b: Array, rounds: int
) -> _Candidates:
    y, weight, ratio = packed.y[:, None, :], packed.weight, packed.ratio[:, None]
    way = family.way(u)
    tried = []
    for start in family.starting:
        g, _ = family.left(way, np.full(u.shape[:2], start), ratio)
        p, d = _linear(g, packed)
        tried.append(np.einsum("wm,wkm->wk", weight, (y - p[..., None] - d[..., None] * g) ** 2))
    c = np.asarray(family.starting)[np.argmin(tried, axis=0)]
    middle, sd = family.prior
    precision = 1.0 / sd**2
    for k in range(rounds + 1):
        g, slope = family.left(way, c, ratio)
        p, d = _linear(g, packed)
        rest = y - p[..., None] - d[..., None] * g
        slope *= d[..., None]
        normal = _normal(g, slope, weight)
        normal[..., 2, 2] += precision
        if k == rounds:
            break
        pull = np.einsum("wm,wkm,wkm->wk", weight, slope, rest) + precision * (middle - c)
        # With thick end and point at their best the step is that of the Schur complement.
        n00, n01, n11 = normal[..., 0, 0], normal[..., 0, 1], normal[..., 1, 1]
        c0, c1 = normal[..., 0, 2], normal[..., 1, 2]
        taken = (n11 * c0**2 - 2 * n01 * c0 * c1 + n00 * c1**2) / (n00 * n11 - n01**2)
        step = pull / np.maximum(normal[..., 2, 2] - taken, precision)
        c = np.clip(c + np.clip(step, -family.longest_step, family.longest_step), *family.limits)
    misfit = np.einsum("wm,wkm->wk", weight, rest**2) + precision * (c - middle) ** 2
    _, log_det = np.linalg.slogdet(normal)
    freedom = FREEDOM + packed.number[:, None]
    log_weight = prior - freedom / 2 * np.log(FREEDOM + misfit) - 0.5 * log_det + 0.5 * np.log(precision)
    log_weight = np.where((d > 0) & (p > 0), log_weight, -np.inf)
    at_half, _ = family.left(family.way(half[..., None]), c, ratio)
    return _Candidates(
        log_weight, a, b, family.fullness(c, ratio), at_half[..., 0], p, d, misfit, normal, g[..., :-2]
    )


def _linear(g: Array, packed: _Packed) -> tuple[Array, Array]:
    """Point, and thick end less point, that fit best to shares left (w, k, m): each (w, k)."""
    weight = packed.weight
    wy = weight * packed.y
    sw, sy = weight.sum(axis=1)[:, None], wy.sum(axis=1)[:, None]
    sg, sgy = np.einsum("wm,wkm->wk", weight, g), np.einsum("wm,wkm->wk", wy, g)
    sgg = np.einsum("wm,wkm,wkm->wk", weight, g, g)
    det = sw * sgg - sg**2
    return (sgg * sy - sg * sgy) / det, (sw * sgy - sg * sy) / det


def _normal(g: Array, slope: Array, weight: Array) -> Array:
    """Normal equations (w, k, 3, 3) of point, difference and the taper's number."""
    found = np.empty((*g.shape[:2], 3, 3))
    weighted, steep = weight[:, None, :] * g, weight[:, None, :] * slope
    found[..., 0, 0] = weight.sum(axis=1)[:, None]
    found[..., 0, 1] = found[..., 1, 0] = weighted.sum(axis=2)
    found[..., 0, 2] = found[..., 2, 0] = steep.sum(axis=2)
    found[..., 1, 1] = np.einsum("wkm,wkm->wk", weighted, g)
    found[..., 1, 2] = found[..., 2, 1] = np.einsum("wkm,wkm->wk", steep, g)
    found[..., 2, 2] = np.einsum("wkm,wkm->wk", steep, slope)
    return found


def _segments(found: _Candidates, i: int, n: int) -> Segments | None:
    log_weight = found.log_weight[i]
    best = log_weight.max()
    if not np.isfinite(best):
        return None
    kept = np.flatnonzero(log_weight > best - LEAST_LIKELY)
    weight = np.exp(log_weight[kept] - best)
    weight /= weight.sum()
    variance = (FREEDOM + found.misfit[i, kept]) / (FREEDOM + n - 2)
    spread = np.linalg.inv(found.normal[i, kept]) * variance[:, None, None]
    of_p, of_d, between = spread[:, 0, 0], spread[:, 1, 1], spread[:, 0, 1]
    point = found.point[i, kept]
    return Segments(
        weight=weight,
        start=found.start[i, kept],
        end=1.0 - found.tail[i, kept],
        fullness=found.fullness[i, kept],
        middle=found.middle[i, kept],
        thick=point + found.difference[i, kept],
        point=point,
        thick_variance=of_p + of_d + 2 * between,
        point_variance=of_p,
        covariance=of_p + between,
        left=found.left[i, kept, :n],
        scatter=float(np.sqrt(weight @ variance)),
    )
