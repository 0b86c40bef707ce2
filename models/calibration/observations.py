"""What goes into a fit and what comes out of a calibration, one dataclass each."""

import math
from dataclasses import dataclass
from typing import Final, Literal

from plaitlog.models.errors import Finding
from plaitlog.models.stack import Stack

Method = Literal["caliper", "girth"]
Interval = Literal["reading", "true"]
Z50: Final = 0.6744897501960817
Z90: Final = 1.6448536269514722
"""Standard normal quantiles at 0.75 and 0.95: half widths of equal-tailed 50 % and 90 % intervals."""
SLIP: Final = math.log(1.5)
"""Half as much again, or two thirds: physical reasoning, pull and cord move a plait by a tenth or two, a
lost decimal point, another unit or a girth noted as a diameter by a factor of 2 and more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One measured diameter and the stack it was measured on.

    diameter_mm : > 0. whip : label that groups readings of one whip. maker : None where not noted.
    at_mm : station, None where not known. condition : None counts as rolled. inner : the layer measured was
    not the last of the finished whip. doubtful : the maker put a question mark behind it; it counts a
    quarter.
    """

    stack: Stack
    diameter_mm: float
    whip: str
    maker: str | None = None
    at_mm: float | None = None
    method: Method = "caliper"
    condition: str | None = None
    inner: bool = False
    doubtful: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """A stack whose diameter is asked for.

    readings : those taken so far on the same whip, inner or finished; they must not be part of the fit.
    Queries that hold the same tuple of readings are worked out together.
    """

    stack: Stack
    maker: str | None = None
    condition: str | None = None
    at_mm: float | None = None
    readings: tuple[Observation, ...] = ()
    inner: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """Median diameter with equal-tailed intervals, mm. ``sd_log`` is before any correction of the intervals.

    cover : of the outermost plaited layer, None where nothing is plaited. new_cord : some layer's cord has no
    reading in the fit.
    """

    diameter_mm: float
    sd_log: float
    low_50_mm: float
    high_50_mm: float
    low_90_mm: float
    high_90_mm: float
    cover: float | None
    new_cord: bool
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A reading that does not fit the others: where it is among the observations, and what would fit."""

    index: int
    whip: str
    at_mm: float | None
    diameter_mm: float
    fitting_mm: float
    residual_log: float
    weight: float


def sd_of_interval(low_90: float, high_90: float) -> float:
    """Standard deviation of the logarithm that a 90 % interval stands for, its correction included."""
    return math.log(high_90 / low_90) / (2 * Z90)
