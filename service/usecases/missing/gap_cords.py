"""Gaps about cords: measurements that are missing, and cords that were never or seldom read."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from plaitlog.models.calibration.gain import Trial, cord_parts
from plaitlog.models.calibration.observations import Observation, Query
from plaitlog.models.counted import counted
from plaitlog.models.geometry import flat_width_mm
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly
from plaitlog.service.usecases.cords.measures import lacks
from plaitlog.service.usecases.cords.worth import filled_in
from plaitlog.service.usecases.missing.gap_candidate import Array, Candidate
from plaitlog.service.usecases.missing.gap_targets import Target
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.predicting_stacks import usual_pattern
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import CordInWorkshop

STRANDS: Final = 16
TRIED_COVER: Final = 0.8
"""A test plait: so many strands, over a rod on which they close about as they do on a whip."""
READ_AT_MM: Final = (50.0, 100.0, 150.0)
SELDOM: Final = 30
"""A test plait is proposed of a cord with fewer readings than this; more teach ever less of it."""
MEASURES: Final[Mapping[str, tuple[str, str]]] = {
    "linear_density_g_per_m": ("its weight per metre", "weigh 10 m of it and divide the grams by ten"),
    "diameter_mm": ("its diameter", "read the calipers where the jaws just touch it"),
    "flat_width_mm": ("its flat width", "lay ten strands side by side and divide the width by ten"),
    "pressed_mm": ("its pressed thickness", "read the calipers pressed shut on it"),
}
"""What a cord lacks in words, and how it is measured."""


def measurements(in_force: InForce, cords: Sequence[Cord], found: Sequence[Target]) -> list[Candidate]:
    """Every measurement that a cord in some target lacks, with the variance it would take away."""
    candidates = []
    for cord in cords:
        there = [k for k, target in enumerate(found) if cord.name in target.cords]
        for key in lacks(cord) if there else ():
            losses = np.zeros(len(found))
            losses[there] = _losses(in_force, cord, key, [found[k].query for k in there])
            name, how = MEASURES[key]
            candidates.append(
                Candidate(
                    kind="cord",
                    about=cord.name,
                    what=_said(f"{cord.name}: {name} is not measured"),
                    do=_said(how),
                    concerns=_containing(cord.name),
                    losses=losses,
                )
            )
    return candidates


def _losses(in_force: InForce, cord: Cord, key: str, queries: Sequence[Query]) -> Array:
    """Variance that measuring takes away where the cord was never read, less what its readings tell already.

    A measurement that takes d away from the variance v of the cord's effect tells as much as a reading of
    that effect with a variance of v^2 / d - v; it is weighed as one beside all that the fit knows.
    """
    unread = replace(cord, name=f"{cord.name} (never read)")
    measured = filled_in(unread, key)
    without = [with_cord(query, cord.name, unread) for query in queries]
    before, after = (
        in_force.predict(without),
        in_force.predict([with_cord(query, cord.name, measured) for query in queries]),
    )
    less = np.array([was.sd_log**2 - now.sd_log**2 for was, now in zip(before, after, strict=True)])
    whole = np.maximum(cord_parts(in_force.calibration, without, unread.name)[1], 1e-12)
    less = np.clip(less, 1e-15, 0.999 * whole)
    across, left = cord_parts(in_force.calibration, queries, cord.name)
    return np.asarray(across**2 / (left + whole**2 / less - whole))


def with_cord(query: Query, name: str, cord: Cord) -> Query:
    """The same stack with a cord in the place of the one of that name."""
    layers = tuple(
        replace(
            layer,
            groups=tuple(
                replace(group, cord=cord) if group.cord.name == name else group for group in layer.groups
            ),
        )
        for layer in query.stack.layers
    )
    return replace(query, stack=replace(query.stack, layers=layers))


def plaits_to_try(
    in_force: InForce, stock: Sequence[CordInWorkshop], found: Sequence[Target]
) -> list[Candidate]:
    """A short test plait in every cord of some target that was never or seldom read: three readings."""
    read = in_force.calibration.cords
    makers = in_force.calibration.makers
    maker = max(makers, key=lambda name: (makers[name], name), default=None) or None
    return [
        Candidate(
            kind="test plait",
            about=each.cord.name,
            what=_said(f"{each.cord.name}: {_how_often(each, read.get(each.cord.name, 0))}"),
            do=_plait(rod_mm(each.cord)),
            concerns=_containing(each.cord.name),
            trial=plait_to_try(each.cord, maker),
        )
        for each in stock
        if read.get(each.cord.name, 0) < SELDOM and any(each.cord.name in target.cords for target in found)
    ]


def rod_mm(cord: Cord) -> float:
    """The rod, to the half millimetre, on which the strands have the cover: n w / (2 pi d_m), d_m rod + w."""
    width = flat_width_mm(cord)
    mean_mm = STRANDS * width / (2 * math.pi * TRIED_COVER)
    return max(round(2 * (mean_mm - width)) / 2, 1.0)


def plait_to_try(cord: Cord, maker: str | None) -> Trial:
    """Three readings on a plait of one cord over a rod."""
    layer = StackLayer(
        role="overlay", groups=(StrandGroup(cord, exactly(STRANDS)),), pattern=usual_pattern(STRANDS), slot=1
    )
    rod = rod_mm(cord)
    return Trial(
        tuple(
            Observation(
                stack=Stack((layer,), rod), diameter_mm=rod, whip="to be plaited", maker=maker, at_mm=at
            )
            for at in READ_AT_MM
        )
    )


def _how_often(each: CordInWorkshop, readings: int) -> str:
    stock = f", {each.metres:g} m in stock" if each.metres else ""
    if not readings:
        return f"never read{stock}"
    return f"only {counted(readings, 'reading')} so far{stock}"


def _plait(rod: float) -> Callable[[ShownUnits], str]:
    def words(shown: ShownUnits) -> str:
        long = "8 in" if shown.lengths in ("in", "ft") else shown.length(200.0)
        return (
            f"plait {STRANDS} strands of it for {long} over a rod of about {shown.diameter(rod)}, "
            "and read it in three places"
        )

    return words


def _said(text: str) -> Callable[[ShownUnits], str]:
    return lambda shown: text


def _containing(name: str) -> Callable[[Target], bool]:
    return lambda target: name in target.cords
