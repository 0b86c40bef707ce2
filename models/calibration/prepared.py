"""Readings made ready for a fit: stacks packed, columns chosen, whips numbered."""

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plaitlog.models.calibration.design import Columns, Designer
from plaitlog.models.calibration.features import Strands
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.packed import ABSENT, Array, Index, PackedStacks, pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.resolve import resolve
from plaitlog.models.calibration.smooth import Smooth, smooth_of
from plaitlog.models.calibration.terms import both_terms, layer_terms, row_terms
from plaitlog.models.errors import Finding, FitError

DOUBT = 4.0
"""Row variance of a doubtful reading over that of an ordinary one: it counts a quarter (own judgement)."""


@dataclass(frozen=True)
class Prepared:
    """y (n,): log diameters. levels (n,): number of the whip. doubt (n,): factor on the row variance."""

    observations: Sequence[Observation]
    y: Array
    packed: PackedStacks
    designer: Designer
    at_mm: Array
    whips: tuple[str, ...]
    levels: Index
    doubt: Array

    @property
    def columns(self) -> Columns:
        return self.designer.columns

    def cords(self) -> dict[str, int]:
        """Readings in whose stack each cord lies, by name."""
        packed = self.packed
        present = packed.kind[packed.group_row, packed.group_layer] != ABSENT
        names = [properties.cord.name for properties in packed.cords]
        seen = {
            (row, names[cord])
            for row, cord in zip(
                packed.group_row[present].tolist(), packed.group_cord[present].tolist(), strict=True
            )
        }
        return dict(sorted(Counter(name for _, name in seen).items()))

    def fingerprint(self) -> str:
        """SHA-256 of all that the fit sees: readings, stations, stacks, cord sizes, whips, levels."""
        digest = hashlib.sha256()
        terms = self.designer.terms
        arrays = [self.y, self.at_mm, self.doubt, self.levels, terms.key]
        arrays += [value for value in vars(self.packed).values() if isinstance(value, np.ndarray)]
        for array in arrays:
            digest.update(np.ascontiguousarray(array).astype(np.float64).tobytes())
        names = [*self.whips, *terms.names, *(str(o.maker) for o in self.observations)]
        digest.update("\n".join(names).encode())
        return digest.hexdigest()


def prepare(
    observations: Sequence[Observation], parameters: Parameters, smooth: Smooth | None = None
) -> Prepared:
    """Prepare readings; ``smooth``: one with its centres, by default centres are spread over these layers.

    Raises
    ------
    FitError
        Where a diameter is not a positive finite number.
    """
    diameters = np.array([o.diameter_mm for o in observations], dtype=float)
    wrong = np.flatnonzero(~(np.isfinite(diameters) & (diameters > 0)))
    if len(wrong):
        first = observations[int(wrong[0])]
        raise FitError(
            Finding(
                "not-a-size",
                f"a reading of {first.diameter_mm!r} mm is not a size",
                "mend or leave out the reading",
                f"whip {first.whip}" + ("" if first.at_mm is None else f" at {first.at_mm:g} mm"),
            )
        )
    packed = pack([o.stack for o in observations], parameters.geometry)
    terms = both_terms(
        layer_terms(packed),
        row_terms(
            [o.maker for o in observations],
            [o.condition for o in observations],
            [o.method for o in observations],
            [o.inner for o in observations],
        ),
    )
    if smooth is None:
        geometry_alone = resolve(packed, np.zeros(packed.kind.shape), parameters.geometry)
        smooth = smooth_of(Strands.of(packed).moved_points(geometry_alone), parameters.centres)
    used = np.zeros(len(terms.names), dtype=bool)
    used[terms.key] = True
    seen = sorted(name for name, there in zip(terms.names, used, strict=True) if there)
    codes = {whip: k for k, whip in enumerate(dict.fromkeys(o.whip for o in observations))}
    return Prepared(
        observations=observations,
        y=np.log(diameters),
        packed=packed,
        designer=Designer(packed, terms, Columns(tuple(seen), smooth), parameters),
        at_mm=np.array([np.nan if o.at_mm is None else o.at_mm for o in observations], dtype=float),
        whips=tuple(codes),
        levels=np.array([codes[o.whip] for o in observations], dtype=np.intp),
        doubt=np.array([DOUBT if o.doubtful else 1.0 for o in observations]),
    )
