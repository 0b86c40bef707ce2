"""The profile of a thong: diameters along it, its smooth body, and the numbers of its shape.

The body is the falling curve nearest to the readings (isotonic regression, Barlow et al. 1972), which never
follows their noise; its ends are drawn outwards by noise, so thick end, point and the parallel lengths come
from the segmented fit, and the isotonic body corrects that fit where a thong is of another shape.
Stations count from the thick end of the thong. Units: mm.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.optimize import isotonic_regression
from scipy.special import stdtrit

from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.handling.segmented import FREEDOM, Segments, Stations, fit_segments
from plaitlog.models.taper import Array

Number = tuple[float, float]
"""Value and standard deviation."""
ENDS: Final = 0.1
"""A profile must be known within this share of the thong of both ends (own choice)."""
LEAST_FOR_SHAPE: Final = 6
"""Stations from which on the fullness is told: five numbers of the shape and one to see their scatter."""
LARGEST_GAP: Final = 0.35
"""Longest way between two of these, as a share of the thong (own choice)."""
MIDDLE_WINDOW: Final = 0.1
"""Half the length over which the body is averaged for the middle, as a share of the thong (own choice)."""
SLIP: Final = 5.0
SLIP_IN_SCATTER: Final = 2.5
"""Standard deviations from the fit at which a reading is taken for a slip, as stated and as the readings of
the thong scatter (own choice): a thong that falls in steps is off everywhere."""
SLIP_FREEDOM: Final = 4.0
"""Degrees of freedom of the Student t that then weights all readings of the thong (common choice: Lange,
Little & Taylor 1989)."""
SLIP_ROUNDS: Final = 3
PARALLEL_BELOW: Final = 1.25
"""A thong whose thick end is less than this many times its point is parallel: point over thick end above 0.8
(own convention)."""


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """n diameters with their standard deviations at rising stations from 0 to ``length_mm``.

    covariance : (n, n) of the logarithms of the diameters, where they are predicted and err together; then
    ``sd_mm`` is what is left to each beside what they have in common. None: readings, each for itself.
    """

    length_mm: float
    at_mm: Array
    diameter_mm: Array
    sd_mm: Array
    covariance: Array | None = None

    def __post_init__(self) -> None:
        if not (len(self.at_mm) == len(self.diameter_mm) == len(self.sd_mm) >= 1):
            raise ValueError("each station needs one diameter and one standard deviation")
        if np.any(np.diff(self.at_mm) <= 0) or not 0 <= self.at_mm[0] <= self.at_mm[-1] <= self.length_mm:
            raise ValueError("stations must rise, from the thick end to the point")
        if not (np.all(self.diameter_mm > 0) and np.all(self.sd_mm > 0)):
            raise ValueError("diameters and their standard deviations must be above 0")

    @property
    def along(self) -> Array:
        return self.at_mm / self.length_mm

    @property
    def body_mm(self) -> Array:
        """The falling curve nearest to the diameters, at their stations."""
        return falling(self.diameter_mm, 1.0 / self.sd_mm**2)

    @property
    def reaches_both_ends(self) -> bool:
        return bool(self.along[0] <= ENDS and self.along[-1] >= 1 - ENDS)

    @property
    def tells_middle(self) -> bool:
        """Whether thick end, middle and point are each known from a station nearby."""
        return self.reaches_both_ends and bool(np.any(np.abs(self.along - 0.5) <= ENDS))

    @property
    def tells_shape(self) -> bool:
        """Whether there are stations enough, close enough to each other, for fullness and parallel ends."""
        close = np.all(np.diff(self.along) <= LARGEST_GAP)
        return self.reaches_both_ends and len(self.at_mm) >= LEAST_FOR_SHAPE and bool(close)


def falling(values: Array, weights: Array) -> Array:
    """The sequence that never rises nearest to ``values`` in weighted least squares."""
    return np.asarray(isotonic_regression(values, weights=weights, increasing=False).x, dtype=np.float64)


def shapes_of(profiles: Sequence[Profile]) -> list[Mapping[str, Estimate]]:
    """Numbers of each profile's shape by name, as far as the profile tells them.

    With three stations at thick end, middle and point: both diameters, their ratio, the middle share and the
    taper rates; with six along the thong also the fullness and the parallel lengths. A thong that does not
    taper has no middle share, no fullness and no parallel ends.
    """
    fitted = iter(_fitted([one for one in profiles if one.tells_shape]))
    return [
        _from_segments(*next(fitted)) if one.tells_shape else _from_three(one) if one.tells_middle else {}
        for one in profiles
    ]


def _fitted(profiles: Sequence[Profile]) -> list[tuple[Profile, Segments | None]]:
    """Each with its segmented fit; readings far from it get the less weight the farther they are."""
    now = list(profiles)
    found = fit_segments([Stations(one.along, one.diameter_mm, one.sd_mm) for one in now])
    for _ in range(SLIP_ROUNDS):
        slips = {i: sd for i, one in enumerate(found) if (sd := _doubted(profiles[i], one)) is not None}
        if not slips:
            break
        for i, sd in slips.items():
            now[i] = replace(profiles[i], sd_mm=sd)
        again = fit_segments([Stations(now[i].along, now[i].diameter_mm, now[i].sd_mm) for i in slips])
        for i, one in zip(slips, again, strict=True):
            found[i] = one
    return list(zip(now, found, strict=True))


def _doubted(profile: Profile, found: Segments | None) -> Array | None:
    """Standard deviations with which a Student t weights the readings, where one is far from the fit."""
    if found is None:
        return None
    curve = found.weight @ (found.point[:, None] + (found.thick - found.point)[:, None] * found.left)
    off = np.abs(profile.diameter_mm - curve) / profile.sd_mm
    if off.max() < max(SLIP, SLIP_IN_SCATTER * found.scatter):
        return None
    return profile.sd_mm * np.sqrt(1.0 + off**2 / SLIP_FREEDOM)


def shape_of(profile: Profile) -> Mapping[str, Estimate]:
    """``shapes_of`` one profile."""
    return shapes_of([profile])[0]


def _from_segments(profile: Profile, found: Segments | None) -> dict[str, Estimate]:
    if found is None:
        return _level(profile)
    body, length = profile.body_mm, profile.length_mm
    noise = profile.sd_mm * found.scatter
    d = found.thick - found.point
    thick = found.moments(found.thick, found.thick_variance)
    point = found.moments(found.point, found.point_variance)
    taper = _means(profile.along, found.start, found.end)
    middle = _means(profile.along, np.array([0.5 - MIDDLE_WINDOW]), np.array([0.5 + MIDDLE_WINDOW]))
    fullness, fullness_sd = _share(found, found.fullness, taper, body, noise)
    share, share_sd = _share(found, found.middle, np.broadcast_to(middle, taper.shape), body, noise)
    # What the body shows at the middle, with the way that the curve of the model bends between stations.
    bend = found.middle - found.left @ middle[0]
    middle_mm = found.moments(body @ middle[0] + bend * d, float(middle[0] ** 2 @ noise**2))
    told = {
        **_ends(thick, point, middle_mm, length),
        "middle_share": (share, share_sd),
        "fullness": (fullness, fullness_sd),
    }
    if profile.covariance is not None:
        told = _with_common(profile, told, found.weight @ taper, middle[0])
    width = float(stdtrit(FREEDOM + len(profile.at_mm), 0.95))
    estimates = {name: Estimate.of(*pair, width=width) for name, pair in told.items()}
    if thick[0] < PARALLEL_BELOW * point[0]:
        return {name: one for name, one in estimates.items() if name not in ("fullness", "middle_share")}
    for name, share_of in (("parallel_thick_mm", found.start), ("parallel_point_mm", 1.0 - found.end)):
        estimates[name] = _parallel(found, share_of, length)
    return estimates


def _from_three(profile: Profile) -> dict[str, Estimate]:
    """From the body at the outermost stations and at half the length."""
    body, along, sd = profile.body_mm, profile.along, profile.sd_mm
    middle = float(np.interp(0.5, along, body)), float(np.interp(0.5, along, sd))
    # Beyond the outermost stations the thong goes on as it does between them and the middle, or is level.
    steep = (body[0] - middle[0]) / (0.5 - along[0]), (middle[0] - body[-1]) / (along[-1] - 0.5)
    thick = float(body[0]), float(np.hypot(sd[0], steep[0] * along[0]))
    point = float(body[-1]), float(np.hypot(sd[-1], steep[1] * (1 - along[-1])))
    told = _ends(thick, point, middle, profile.length_mm)
    if thick[0] >= PARALLEL_BELOW * point[0]:
        d = thick[0] - point[0]
        share = (middle[0] - point[0]) / d
        parts = np.array([middle[1], (1 - share) * point[1], share * thick[1]])
        told["middle_share"] = share, float(np.sqrt(parts @ parts)) / d
    if profile.covariance is not None:
        at_middle = _means(along, np.array([0.5 - 1e-6]), np.array([0.5 + 1e-6]))[0]
        told = _with_common(profile, told, at_middle, at_middle)
    return {name: Estimate.of(*pair) for name, pair in told.items()}


def _level(profile: Profile) -> dict[str, Estimate]:
    """Of a thong that nowhere tapers: its ends alone."""
    w = 1.0 / profile.sd_mm**2
    mean = float(w @ profile.diameter_mm / w.sum())
    same = mean, float(1.0 / np.sqrt(w.sum()))
    told = _ends(same, same, same, profile.length_mm)
    return {name: Estimate.of(*pair) for name, pair in told.items()}


def _ends(thick: Number, point: Number, middle: Number, length: float) -> dict[str, Number]:
    ratio = thick[0] / point[0]
    return {
        "thick_end_mm": thick,
        "point_mm": point,
        "taper_ratio": (ratio, ratio * math.hypot(thick[1] / thick[0], point[1] / point[0])),
        "taper_rate_thick": _rate(thick, middle, length),
        "taper_rate_point": _rate(middle, point, length),
    }


def _rate(first: Number, second: Number, length: float) -> Number:
    """Diameter lost per length over half the thong, mm per m."""
    per = length / 2 / 1000
    return (first[0] - second[0]) / per, math.hypot(first[1], second[1]) / per


def _with_common(
    profile: Profile, told: Mapping[str, Number], taper: Array, middle: Array
) -> dict[str, Number]:
    """The same with the errors that predicted diameters have in common (first order in their logarithms).

    taper, middle : (n,) weights of the stations in the mean over the taper and in the middle.
    """
    assert profile.covariance is not None
    n, per = len(profile.at_mm), profile.length_mm / 2 / 1000
    thick, point = told["thick_end_mm"][0], told["point_mm"][0]
    at_thick, at_point = np.zeros(n), np.zeros(n)
    at_thick[0], at_point[-1] = thick, point
    at_middle, over_taper = middle * profile.diameter_mm, taper * profile.diameter_mm
    slopes = {
        "thick_end_mm": at_thick,
        "point_mm": at_point,
        "taper_ratio": (at_thick / thick - at_point / point) * thick / point,
        "taper_rate_thick": (at_thick - at_middle) / per,
        "taper_rate_point": (at_middle - at_point) / per,
    }
    for name, inner in (("middle_share", at_middle), ("fullness", over_taper)):
        if name in told:
            share = told[name][0]
            slopes[name] = (inner - (1 - share) * at_point - share * at_thick) / (thick - point)
    return {
        name: (value, math.sqrt(sd**2 + float(slopes[name] @ profile.covariance @ slopes[name])))
        for name, (value, sd) in told.items()
    }


def _parallel(found: Segments, share_of: Array, length: float) -> Estimate:
    values = np.unique(np.round(share_of, 9))
    cell = float(values[-1] - values[-2]) if len(values) > 1 else 0.0
    low, high = found.quantiles(share_of, (0.05, 0.95), cell)
    middle, sd = found.moments(share_of, cell**2 / 12)
    # A few long candidates beside many without a parallel length draw the mean out of the interval.
    return Estimate(min(max(middle, low), high) * length, sd * length, low * length, high * length)


def _share(found: Segments, model: Array, over: Array, body: Array, noise: Array) -> Number:
    """Mean share left over a window: the model's, corrected by what the body shows beside it there.

    over : (k, n) weights of the stations. The correction takes the body straight between stations, and the
    model's own curve between them out again.
    """
    d = found.thick - found.point
    seen = (over @ body - found.point) / d
    values = model + seen - np.einsum("kn,kn->k", over, found.left)
    ends = (
        (1 - values) ** 2 * found.point_variance
        + values**2 * found.thick_variance
        + 2 * values * (1 - values) * found.covariance
    )
    # The noise of the body and that of the ends come from the same readings and partly cancel; taking them
    # as independent is on the safe side.
    return found.moments(values, (over**2 @ noise**2 + ends) / d**2)


def _means(along: Array, start: Array, end: Array) -> Array:
    """(k, n) weights with which values at n stations give the mean, between two shares of the thong, of the
    line that joins them, level beyond the first and the last."""
    return (_areas(along, end) - _areas(along, start)) / (end - start)[:, None]


def _areas(along: Array, to: Array) -> Array:
    """(k, n) weights of the area under that line from 0 to each of k places."""
    n = len(along)
    if n == 1:
        return np.asarray(to[:, None])
    gaps = np.diff(along)
    inside = np.clip(to[:, None] - along[:-1], 0.0, gaps)
    rising = inside**2 / (2 * gaps)
    found = np.zeros((len(to), n))
    found[:, 1:] += rising
    found[:, :-1] += inside - rising
    found[:, 0] += np.minimum(to, along[0])
    found[:, -1] += np.maximum(to - along[-1], 0.0)
    return found
