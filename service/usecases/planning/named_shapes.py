"""Shapes that a maker names and the planner has no word of its own for."""

from typing import Final

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.handling.profile import PARALLEL_BELOW
from plaitlog.models.units import parse_diameter

PARALLEL: Final = "parallel"
SHAPES: Final = (PARALLEL, "late", "even", "early")


def parallel_ends(thick: str, point: str) -> tuple[str, str]:
    """Both ends of a parallel thong as typed with their units: the same where one of them is left open.

    Raises
    ------
    InputError
        Where both are open, or they lie so far apart that nobody calls it parallel.
    """
    if not (thick or point):
        raise InputError(
            Finding("missing", "a parallel thong has one diameter", "write it", "target, thick_end")
        )
    thick, point = thick or point, point or thick
    ends = [parse_diameter(thick), parse_diameter(point)]
    if ends[0] >= PARALLEL_BELOW * ends[1]:
        text = f"from {thick} to {point} is not parallel"
        remedy = f"choose even, or a point of more than {ends[0] / PARALLEL_BELOW:.1f} mm"
        raise InputError(Finding("not-parallel", text, remedy, "target, taper"))
    return thick, point
