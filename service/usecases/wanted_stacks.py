"""The stacks that advice about a cord is for: typical ones of it, those of a diameter, of a whip, typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.models.calibration.remarks import HIGH_COVER, LOW_COVER
from plaitlog.models.errors import Finding, InputError
from plaitlog.models.stack import Stack, StackLayer, StackRole, StrandGroup
from plaitlog.models.whip import Cord, Whip, exactly
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.predicting_stacks import is_inner_stack, like_whip, typed_stack

BODIES: Final[tuple[tuple[tuple[StackRole, int], ...], ...]] = (
    (("core", 6), ("belly", 12)),
    (("core", 6),),
    (("core", 4),),
    (("core", 2),),
)
"""Bodies under the overlay of a typical stack, from the handle to the point (common practice, no source)."""
OVERLAYS: Final = range(6, 26, 2)
COVER: Final = 0.9
NEAREST: Final = 3
"""So many stacks, nearest to a diameter that is asked for."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Stacks that are to be plaited, and what they are in words that follow "the interval of"."""

    queries: tuple[Query, ...]
    words: str


def maker_of_most(calibration: Calibration) -> str | None:
    """The maker of most readings; None where none is noted."""
    named = {maker: count for maker, count in calibration.makers.items() if maker}
    return max(named, key=lambda maker: named[maker], default=None)


def typical_stacks(in_force: InForce, cord: Cord, maker: str | None) -> Wanted:
    """Four stacks of the cord alone, each under the overlay that comes nearest to a cover of 0.9."""
    queries = lying_queries(cord, maker)
    told = in_force.predict(queries)
    chosen = tuple(query for query, _ in usual_ones(queries, told))
    return Wanted(chosen, f"{len(chosen)} typical stacks of it")


def lying_queries(cord: Cord, maker: str | None) -> list[Query]:
    """Every usual body of a cord under every overlay of it."""
    return [
        Query(stack=_stack(cord, (*body, ("overlay", overlay))), maker=maker)
        for body in BODIES
        for overlay in OVERLAYS
    ]


def usual_ones(queries: Sequence[Query], told: Sequence[Prediction]) -> list[tuple[Query, Prediction]]:
    """Of ``lying_queries`` with their predictions the one of each body that is nearest to a cover of 0.9."""
    each = list(zip(queries, told, strict=True))
    size = len(OVERLAYS)
    return [
        min(each[first : first + size], key=lambda pair: abs((pair[1].cover or 0.0) - COVER))
        for first in range(0, len(each), size)
    ]


def stacks_of_size(in_force: InForce, cord: Cord, wanted_mm: float, maker: str | None) -> Wanted:
    """The stacks of the cord alone that lie well and come out nearest to a diameter.

    Raises
    ------
    InputError
        Where none comes out within a quarter of it.
    """
    queries = lying_queries(cord, maker)
    found = list(zip(queries, in_force.predict(queries), strict=True))
    well = [pair for pair in found if LOW_COVER <= (pair[1].cover or 0.0) <= HIGH_COVER] or found
    nearest = sorted(well, key=lambda pair: abs(pair[1].diameter_mm - wanted_mm))[:NEAREST]
    if abs(nearest[0][1].diameter_mm - wanted_mm) > wanted_mm / 4:
        low, high = (f(pair[1].diameter_mm for pair in well) for f in (min, max))
        text = f"no usual stack of {cord.name} alone comes out near {wanted_mm:.1f} mm"
        remedy = f"they come out between {low:.1f} and {high:.1f} mm; or state the stack with --stack"
        raise InputError(Finding("no-such-stack", text, remedy))
    return Wanted(
        tuple(query for query, _ in nearest), f"{len(nearest)} stacks of it of about {wanted_mm:.1f} mm"
    )


def typed_stacks(stacks: Sequence[Stack], cord: Cord, maker: str | None) -> Wanted:
    """Stacks as they were typed.

    Raises
    ------
    InputError
        Where the cord is in none of them.
    """
    queries = tuple(Query(stack=stack, maker=maker, inner=is_inner_stack(stack)) for stack in stacks)
    _check_there(queries, cord, "the stack")
    return Wanted(queries, "the stack" if len(queries) == 1 else f"the {len(queries)} stacks")


def stacks_of_whip(
    in_force: InForce, whip: Whip, cords: Mapping[str, Cord], swaps: Mapping[str, str], cord: Cord
) -> Wanted:
    """The stacks of a whip (its readings placed) at its stations, with some cords swapped for others.

    Raises
    ------
    InputError
        Where the cord is in none of them.
    StackNotKnownError
        Where no station of the whip is known well enough.
    """
    found = like_whip(in_force, whip, cords, swaps)
    queries = tuple(
        Query(stack=line.stack, maker=whip.maker or maker_of_most(in_force.calibration), at_mm=line.at_mm)
        for line in found.stations
    )
    _check_there(queries, cord, whip.label)
    having = tuple(query for query in queries if cord in query.stack.cords)
    where = "station" if len(having) == 1 else "stations"
    return Wanted(having, f"a whip like {whip.label} at {len(having)} {where}")


def _check_there(queries: Sequence[Query], cord: Cord, what: str) -> None:
    if not any(cord in query.stack.cords for query in queries):
        names = sorted({each.name for query in queries for each in query.stack.cords})
        text = f"{cord.name} is not in {what}"
        raise InputError(Finding("cord-not-in-stack", text, f"in it: {', '.join(names) or 'no cord'}"))


def _stack(cord: Cord, layers: Sequence[tuple[StackRole, int]]) -> Stack:
    return Stack(
        tuple(
            StackLayer(role=role, groups=(StrandGroup(cord, exactly(count)),), slot=slot)
            for slot, (role, count) in enumerate(layers, start=1)
        )
    )


def wanted_stacks(
    in_force: InForce,
    cords: Mapping[str, Cord],
    cord: Cord,
    *,
    size_mm: float | None = None,
    stacks: Sequence[str] = (),
    letters: Mapping[str, str] | None = None,
    like: Whip | None = None,
    swaps: Mapping[str, str] | None = None,
) -> Wanted:
    """The stacks that are asked for, one way or another; typical ones of the cord where nothing is said.

    Raises
    ------
    InputError
        Where they are asked for in several ways, cannot be read, or lack the cord.
    """
    if sum((size_mm is not None, bool(stacks), like is not None)) > 1:
        text = "several kinds of stacks are asked for"
        raise InputError(Finding("question-unclear", text, "give a diameter, or stacks, or a whip"))
    maker = maker_of_most(in_force.calibration)
    if size_mm is not None:
        return stacks_of_size(in_force, cord, size_mm, maker)
    if stacks:
        named = dict(letters or {})
        typed = [typed_stack(text, cords, named, None if named else cord.name) for text in stacks]
        return typed_stacks(typed, cord, maker)
    if like is not None:
        return stacks_of_whip(in_force, like, cords, dict(swaps or {}), cord)
    return typical_stacks(in_force, cord, maker)
