"""The wanted diameters of a plan: by a taper, by stations, or those of a recorded whip."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.planning.asked import Target
from plaitlog.models.taper import Array, Shape, fullness_of, straight_between
from plaitlog.service.schemas.plan_spec import TargetShape
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.planning.like_profile import MeasuredProfile
from plaitlog.service.usecases.planning.ready_patterns import ReadyPattern
from plaitlog.service.usecases.planning.typed_sizes import Declared, diameter_mm, length_mm

ALMOST: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the target rests on beside its own text; lengths in mm from the handle end.

    zero_mm : the datum of the text.
    """

    sizes: Mapping[str, float]
    thong_mm: float
    grid_mm: float
    transition_mm: float
    zero_mm: float
    declared: Declared | None
    pattern: ReadyPattern | None
    handle_diameter_mm: float | None
    profile: MeasuredProfile | None


def target_of(shape: TargetShape, wanted: Wanted, refusals: Refusals) -> Target | None:
    """The target at the nodes of the grid; None where it is refused."""
    at = np.arange(int(wanted.thong_mm / wanted.grid_mm + ALMOST) + 1) * np.float64(wanted.grid_mm)
    ends = {key: _from(wanted, key, 0.0) for key in ("parallel_thick_mm", "parallel_point_mm")}
    held_to, held_from = ends["parallel_thick_mm"], wanted.thong_mm - ends["parallel_point_mm"]
    if max(held_to, wanted.transition_mm) >= held_from:
        refusals.add(
            "target",
            "nothing-tapers",
            "the parallel ends and the transition leave nothing of the thong to taper",
            "make them shorter",
        )
        return None
    stations = [name for name in ("stations", "stations_mm") if getattr(shape, name) is not None]
    if stations:
        return _by_stations(shape, wanted, refusals, at, held_to, held_from)
    if wanted.profile is not None:
        diameters = wanted.profile.diameter_mm(at, wanted.thong_mm)
        return _target(diameters, wanted, held_to, held_from)
    return _by_taper(shape, wanted, refusals, at, ends)


def _from(wanted: Wanted, key: str, otherwise: float) -> float:
    """A size as typed, else as the pattern has it."""
    if key in wanted.sizes:
        return wanted.sizes[key]
    found = None if wanted.pattern is None else getattr(wanted.pattern, key)
    return otherwise if found is None else float(found)


def _target(diameters: Array, wanted: Wanted, held_to: float, held_from: float) -> Target:
    return Target(
        diameter_mm=diameters,
        held_to_mm=max(held_to, wanted.transition_mm),
        held_from_mm=round(held_from, 6),
    )


def _by_taper(
    shape: TargetShape, wanted: Wanted, refusals: Refusals, at: Array, ends: Mapping[str, float]
) -> Target | None:
    # A handle that is plaited over goes over into the thong at its own diameter.
    patterned = wanted.pattern is not None
    thick = _from(wanted, "thick_end_mm", (wanted.handle_diameter_mm if patterned else None) or 0.0)
    point = _from(wanted, "point_mm", 0.0)
    for key, mm in (("thick_end", thick), ("point", point)):
        if not mm:
            refusals.add(
                f"target, {key}",
                "missing",
                "is missing",
                "write a diameter such as '5.5 mm', give stations, or a recorded whip it is to be like",
            )
    if not thick or not point:
        return None
    if point > thick:
        refusals.add(
            "target, point",
            "thicker-point",
            f"the point is thicker ({point:g} mm) than the thick end ({thick:g} mm)",
            "correct one of them, or give stations",
        )
        return None
    word = shape.taper or (wanted.pattern.taper if wanted.pattern is not None else "even")
    fullness = shape.fullness if shape.fullness is not None else fullness_of(word, thick, point)
    profile = Shape(length_mm=wanted.thong_mm, thick_mm=thick, point_mm=point, fullness=fullness, **ends)
    held_from = wanted.thong_mm - ends["parallel_point_mm"]
    return _target(profile.diameter_mm(at), wanted, ends["parallel_thick_mm"], held_from)


def _by_stations(
    shape: TargetShape, wanted: Wanted, refusals: Refusals, at: Array, held_to: float, held_from: float
) -> Target | None:
    """Straight lines between the stations; ends that are level there are parallel: nothing is dropped."""
    pairs = _pairs(shape, wanted, refusals)
    if pairs is None:
        return None
    places, diameters = zip(*pairs, strict=True)
    for number, (one, other) in enumerate(pairwise(places), start=2):
        if other <= one:
            refusals.add(
                f"target, stations {number}", "unordered", "does not lie behind the one before", "sort them"
            )
            return None
    level = [place for place, mm in pairs if mm == diameters[0]]
    held_to = max(held_to, level[-1] if len(level) > 1 else 0.0)
    level = [place for place, mm in pairs if mm == diameters[-1]]
    held_from = min(held_from, level[0] if len(level) > 1 else wanted.thong_mm)
    if max(held_to, wanted.transition_mm) >= held_from:
        held_to, held_from = 0.0, wanted.thong_mm
    return _target(straight_between(places, diameters, at), wanted, held_to, held_from)


def _pairs(shape: TargetShape, wanted: Wanted, refusals: Refusals) -> list[tuple[float, float]] | None:
    typed = shape.stations is not None
    name = "stations" if typed else "stations_mm"
    found = []
    before = len(refusals.findings)
    for number, (place, size) in enumerate(shape.stations or shape.stations_mm or (), start=1):
        where = f"target, {name} {number}"
        try:
            if typed:
                pair = (_text(place, wanted, length_mm), _text(size, wanted, diameter_mm))
            else:
                pair = (_finite(place, 0.0, 15_000.0), _finite(size, 0.1, 200.0))
        except InputError as error:
            refusals.take(where, error)
            continue
        at = pair[0] + wanted.zero_mm
        if not -1e-6 <= at <= wanted.thong_mm + 1.0:
            refusals.add(
                where, "beyond-thong", f"{pair[0]:g} mm lies not on the thong", "check place and length"
            )
            continue
        found.append((at, pair[1]))
    return None if len(refusals.findings) > before else found


def _text(value: object, wanted: Wanted, read: object) -> float:
    if not isinstance(value, str):
        raise InputError(
            Finding("unit-missing", f"{value!r} has no unit", "write it as text, or use stations_mm")
        )
    return float(read(value, wanted.declared))  # type: ignore[operator]


def _finite(value: object, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise InputError(
            Finding("out-of-range", f"{value!r} cannot be meant here", f"write a number, {low:g} to {high:g}")
        )
    return float(value)
