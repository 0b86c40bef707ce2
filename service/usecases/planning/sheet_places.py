"""Places along the thong as they are found on a tape, and where to measure between the drops."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Final

from plaitlog.models.units import LengthUnit, exact_text
from plaitlog.models.units_scan import MM_PER

HALF_INCH: Final = MM_PER["in"] / 2
TEN_MM: Final = Fraction(10)
OFF_DROP_MM: Final = 20.0
"""Nearer to a drop a plait is not measured (common practice, no source)."""
APART_MM: Final = 150.0
"""Between two places to measure, about (own choice: half a foot)."""
MOST: Final = 20
"""Places to measure on one layer at most (own choice: a thong of 15 m is not measured a hundred times)."""
LEAST: Final = 3


def tape_unit(unit: LengthUnit) -> LengthUnit:
    """The unit in which places are printed: feet are read in inches on a tape."""
    return "in" if unit == "ft" else unit


def grid_of(unit: LengthUnit) -> Fraction:
    """The grid of all places in mm: half inches, or 10 mm."""
    return HALF_INCH if tape_unit(unit) == "in" else TEN_MM


def on_tape(mm: float, unit: LengthUnit) -> Fraction:
    """The place on the grid next to ``mm``."""
    grid = grid_of(unit)
    return round(Fraction(mm) / grid) * grid


def up_on_tape(mm: float, unit: LengthUnit) -> Fraction:
    """The first place on the grid that is not less: nothing is cut too short."""
    grid = grid_of(unit)
    return -(-(Fraction(mm) - Fraction(1, 1000)) // grid) * grid


def tape_text(mm: Fraction, unit: LengthUnit) -> str:
    """A place on the grid without its unit: 30 1/2, 770."""
    return exact_text(float(mm), tape_unit(unit), fractions=tape_unit(unit) == "in", within_mm=0.01)


def measuring_places(
    run: tuple[float, float],
    changes: Iterable[float],
    bare_from_mm: float,
    unit: LengthUnit,
    under: Sequence[float] = (),
) -> list[float]:
    """Places in mm to measure on a layer that runs over ``run``: on the grid, off each change, evenly spread.

    changes : where strands of this layer are dropped. under : the same of the layers inside it; if they lie
    so close that a long stretch has no place off them all, the middle between two of them has to do.
    bare_from_mm : before it nothing is measured.
    """
    grid = float(grid_of(unit))
    low, high = max(run[0], bare_from_mm), run[1]
    own = [*changes, *run]
    loose = [
        at
        for at in (k * grid for k in range(int(low // grid), int(high // grid) + 2))
        if low <= at <= high and _off(at, own) >= OFF_DROP_MM
    ]
    free = [at for at in loose if _off(at, under) >= OFF_DROP_MM]
    wanted = min(max(round((high - low) / APART_MM), LEAST), MOST)
    if len(loose) <= wanted:
        return free
    first, last = loose[0], loose[-1]
    even = [first + (last - first) * k / (wanted - 1) for k in range(wanted)]
    found = [_near(place, free, APART_MM) or _between(place, loose, under) for place in even]
    return sorted({at for at in found if at is not None})


def _off(at_mm: float, changes: Iterable[float]) -> float:
    return min((abs(at_mm - change) for change in changes), default=float("inf"))


def _near(place: float, free: Sequence[float], within_mm: float) -> float | None:
    at = min(free, key=lambda one: (abs(one - place), one), default=None)
    return None if at is None or abs(at - place) > within_mm else at


def _between(place: float, loose: Sequence[float], under: Sequence[float]) -> float | None:
    """Near the place the one that is furthest from what changes inside."""
    near = [at for at in loose if abs(at - place) <= APART_MM / 2]
    return max(near, key=lambda at: (_off(at, under), -abs(at - place)), default=None)
