"""Readings made ready for a fit: stacks packed, columns chosen, whips numbered."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plaitlog.models.calibration.design import Columns, Designer
from plaitlog.models.calibration.features import Strands
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.packed import Array, Index, PackedStacks, pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.readings import Readings, readings
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.calibration.smooth import Smooth, smooth_of
from plaitlog.models.calibration.terms import both_terms, layer_terms, row_terms
from plaitlog.models.errors import Finding, FitError

DOUBT = 4.0
"""Row variance of a doubtful reading over that of an ordinary one: it counts a quarter (own judgement)."""


@dataclass(frozen=True)
class Prepared:
    """y (n,): log diameters. levels (n,): number of the whip. doubt (n,): factor on the row variance."""

    readings: Readings
    y: Array
    packed: PackedStacks
    designer: Designer
    levels: Index
    whip_count: int
    doubt: Array

    @property
    def columns(self) -> Columns:
        return self.designer.columns


def prepare(
    observations: Sequence[Observation] | Readings, parameters: Parameters, smooth: Smooth | None = None
) -> Prepared:
    """Prepare readings; ``smooth``: one with its centres, by default centres are spread over these layers.

    Raises
    ------
    FitError
        Where a diameter is not a positive finite number.
    """
    data = readings(observations)
    check_sizes(data)
    packed = pack(data.stacks, parameters.geometry)
    terms = both_terms(layer_terms(packed), row_terms(data))
    if smooth is None:
        geometry_alone = resolve(packed, np.zeros(packed.kind.shape), parameters.geometry)
        smooth = smooth_of(Strands.of(packed).moved_points(geometry_alone), parameters.centres)
    whips, levels = np.unique(data.whip, return_inverse=True)
    return Prepared(
        readings=data,
        y=np.log(data.diameter_mm),
        packed=packed,
        designer=Designer(packed, terms, Columns(terms.occurring(), smooth), parameters),
        levels=levels.astype(np.intp),
        whip_count=len(whips),
        doubt=np.where(data.doubtful, DOUBT, 1.0),
    )


def check_sizes(data: Readings) -> None:
    """Raise FitError, naming the whip, where a diameter is not a positive finite number."""
    wrong = np.flatnonzero(~(np.isfinite(data.diameter_mm) & (data.diameter_mm > 0)))
    if len(wrong):
        first = int(wrong[0])
        at_mm = float(data.at_mm[first])
        raise FitError(
            Finding(
                "not-a-size",
                f"a reading of {float(data.diameter_mm[first])!r} mm is not a size",
                "mend or leave out the reading",
                f"whip {data.whips[data.whip[first]]}" + ("" if np.isnan(at_mm) else f" at {at_mm:g} mm"),
            )
        )


def readings_of_cords(data: Readings) -> dict[str, int]:
    """Readings in whose stack each cord lies, by name."""
    stacks = data.stacks
    present = stacks.group_high > 0
    names, code = np.unique([cord.name for cord in stacks.cords], return_inverse=True)
    if not len(names):
        return {}
    cord = code.reshape(-1)[stacks.group_cord[present]]
    there = np.zeros((len(data), len(names)), dtype=bool)
    there[stacks.group_row[present], cord] = True
    counts = there.sum(axis=0)
    return {str(name): int(count) for name, count in zip(names, counts, strict=True) if count}


def readings_of_makers(data: Readings) -> dict[str, int]:
    """Readings of whips of each maker, by name; the empty name where none is noted."""
    counts = np.bincount(data.maker + 1, minlength=len(data.makers) + 1)
    return {name: int(count) for name, count in zip(["", *data.makers], counts, strict=True) if count}
