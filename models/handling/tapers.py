"""Families of tapers: what share of the difference in diameter is left along the way from thick end to point.

One is that of targets in words and numbers, a power of the way still to go or of the way gone. The other is a
straight line in a power of the diameter: 1 a straight line, 2 the taper of evenly spaced drops, 0 a constant
share lost per length. Between them they hold early and late tapers with steep and with level ends.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.taper import Array


@dataclass(frozen=True, slots=True)
class Family:
    """Tapers with one number c.

    way : what ``left`` needs of u, 0 to 1, worked out once. left : from it (w, k, m), c (w, k) and the ratio
    of point to thick end (w, 1): the share left and its slope in c. fullness : from c and the ratio.
    prior : mean and sd of c before measuring.
    """

    way: Callable[[Array], tuple[Array, ...]]
    left: Callable[[tuple[Array, ...], Array, Array], tuple[Array, Array]]
    fullness: Callable[[Array, Array], Array]
    prior: tuple[float, float]
    limits: tuple[float, float]
    starting: tuple[float, ...]
    longest_step: float


def _logs(u: Array) -> tuple[Array, ...]:
    with np.errstate(divide="ignore"):
        return np.log(1.0 - u), np.log(u)


def _left_by_way(way: tuple[Array, ...], f: Array, ratio: Array) -> tuple[Array, Array]:
    """``taper.left`` with c its fullness."""
    low = f <= 0.5
    early = low[..., None]
    log = np.where(early, way[0], way[1])
    power = np.where(low, 1.0 / f - 1.0, f / (1.0 - f))[..., None]
    rate = np.where(low, -1.0 / f**2, -1.0 / (1.0 - f) ** 2)[..., None]
    share = np.exp(power * log)
    slope = share * np.maximum(log, -1e3) * rate
    return np.where(early, share, 1.0 - share), slope


def _as_it_is(u: Array) -> tuple[Array, ...]:
    return (u,)


def _off_zero(m: Array) -> Array:
    """A power of 0 stands for the logarithm, which one close to it is as good as."""
    return np.where(np.abs(m) < 0.02, 0.02, m)


def _left_by_power(way: tuple[Array, ...], m: Array, ratio: Array) -> tuple[Array, Array]:
    """``(1 + (r^m - 1) u)^(1/m)`` is the diameter over that of the thick end, r that of the point."""
    m = _off_zero(m)
    end = ratio**m
    inside = 1.0 + (end - 1.0)[..., None] * way[0]
    log = np.log(inside)
    diameter = np.exp(log / m[..., None])
    turned = (end * np.log(ratio))[..., None] * way[0] / inside
    slope = diameter * (turned - log / m[..., None]) / m[..., None]
    return (diameter - ratio[..., None]) / (1.0 - ratio)[..., None], slope / (1.0 - ratio)[..., None]


def _fullness_by_power(m: Array, ratio: Array) -> Array:
    m = _off_zero(m)
    m = np.where(np.abs(m + 1.0) < 0.02, -0.98, m)
    mean = (ratio ** (m + 1.0) - 1.0) / ((1.0 / m + 1.0) * (ratio**m - 1.0))
    return np.asarray((mean - ratio) / (1.0 - ratio))


def _itself(f: Array, ratio: Array) -> Array:
    return f


FAMILIES: Final = (
    Family(_logs, _left_by_way, _itself, (0.55, 0.2), (0.12, 0.88), (0.3, 0.45, 0.6, 0.72), 0.1),
    Family(
        _as_it_is, _left_by_power, _fullness_by_power, (1.5, 2.0), (-4.0, 8.0), (-1.0, 1.0, 2.5, 4.5), 1.0
    ),
)
"""With priors that both put the fullness of most thongs between 0.35 and 0.75 (own choice: even tapers have
0.50 to 0.61)."""
