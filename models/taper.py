"""Shapes of a thong: diameters along it, from words and numbers.

Along the part that tapers, u runs from 0 at its thick end to 1 at its thin one, and a shape is what share of
the difference in diameter is left there. Its mean over u is the *fullness*: 0.5 for a straight line in
diameter, (2 + r) / (3 (1 + r)) for a straight line in diameter squared, r thin over thick (the integral of a
root). Lengths and diameters in mm.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
TaperWord = Literal["early", "even", "late"]
EARLY_FULLNESS: Final = 0.38
"""Taken for "early" where no number is given (own choice, well below a straight line)."""
LATE_BEYOND: Final = 0.12
"""Taken for "late": this much fuller than evenly spaced drops (own choice)."""
FULLNESS_LIMITS: Final = (0.1, 0.9)


def even_fullness(thick_mm: float, point_mm: float) -> float:
    """Fullness of a straight line in diameter squared, which evenly spaced drops give."""
    ratio = point_mm / thick_mm
    return (2 + ratio) / (3 * (1 + ratio))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A thong of ``length_mm`` from ``thick_mm`` to ``point_mm``, held parallel for a length at each end.

    fullness : None for a straight line in diameter squared.
    """

    length_mm: float
    thick_mm: float
    point_mm: float
    parallel_thick_mm: float = 0.0
    parallel_point_mm: float = 0.0
    fullness: float | None = None

    def __post_init__(self) -> None:
        if not (self.thick_mm > 0 and self.point_mm > 0 and self.length_mm > 0):
            raise ValueError("lengths and diameters must be above 0")
        if not 0 <= self.parallel_thick_mm + self.parallel_point_mm < self.length_mm:
            raise ValueError("the parallel ends leave nothing to taper")
        if self.fullness is not None and not FULLNESS_LIMITS[0] <= self.fullness <= FULLNESS_LIMITS[1]:
            raise ValueError(f"fullness runs from {FULLNESS_LIMITS[0]} to {FULLNESS_LIMITS[1]}")

    def diameter_mm(self, at_mm: npt.ArrayLike) -> Array:
        """Diameters at stations from the thick end, in mm, of their shape."""
        start, end = self.parallel_thick_mm, self.length_mm - self.parallel_point_mm
        along = np.clip((np.asarray(at_mm, dtype=np.float64) - start) / (end - start), 0.0, 1.0)
        if self.fullness is None:
            squared = self.thick_mm**2 + (self.point_mm**2 - self.thick_mm**2) * along
            return np.asarray(np.sqrt(squared))
        return self.point_mm + (self.thick_mm - self.point_mm) * left(along, self.fullness)


def left(along: npt.ArrayLike, fullness: float) -> Array:
    """Share of the difference left at ``along``, 0 to 1, falling from 1 to 0, of mean ``fullness``.

    A power of the way still to go below one half, of the way gone above: both are a straight line at one
    half, and neither has a steep end.
    """
    u = np.asarray(along, dtype=np.float64)
    if fullness <= 0.5:
        return np.asarray((1.0 - u) ** (1.0 / fullness - 1.0))
    return np.asarray(1.0 - u ** (fullness / (1.0 - fullness)))


def fullness_of(word: TaperWord, thick_mm: float, point_mm: float) -> float | None:
    """The fullness that a taper word asks for; None: the straight line in diameter squared."""
    if word == "even":
        return None
    if word == "early":
        return EARLY_FULLNESS
    return even_fullness(thick_mm, point_mm) + LATE_BEYOND


def straight_between(
    stations_mm: Sequence[float], diameters_mm: Sequence[float], at_mm: npt.ArrayLike
) -> Array:
    """Diameters at ``at_mm`` on straight lines between wanted ones; level beyond the first and the last."""
    if len(stations_mm) != len(diameters_mm) or len(stations_mm) < 2:
        raise ValueError("at least two stations are needed, each with its diameter")
    if any(later <= earlier for earlier, later in pairwise(stations_mm)):
        raise ValueError("stations must rise")
    if not all(0 < one < math.inf for one in diameters_mm):
        raise ValueError("diameters must be above 0")
    return np.interp(np.asarray(at_mm, dtype=np.float64), stations_mm, diameters_mm)
