"""Readings as columns: what a fit learns from, however many there are."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.stack_columns import Array, Index, StackColumns, stack_columns
from plaitlog.models.calibration.stack_columns import joined as joined_stacks
from plaitlog.models.whip import Cord

Codes = NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Levels:
    """Who made the whip of each row, and how it was measured (n,): as in ``Readings``."""

    maker: Codes
    condition: Codes
    method: Codes
    inner: NDArray[np.bool_]
    makers: tuple[str, ...]
    conditions: tuple[str, ...]
    methods: tuple[str, ...]


def levels(
    makers: Sequence[str | None],
    conditions: Sequence[str | None],
    methods: Sequence[str],
    inner: Sequence[bool],
) -> Levels:
    """Names as numbers, counted in the order in which they first occur."""
    maker: dict[str, int] = {}
    condition: dict[str, int] = {}
    method: dict[str, int] = {}
    return Levels(
        maker=_coded(makers, maker),
        condition=_coded(conditions, condition),
        method=_coded(methods, method),
        inner=np.array(inner, dtype=np.bool_),
        makers=tuple(maker),
        conditions=tuple(condition),
        methods=tuple(method),
    )


@dataclass(frozen=True, eq=False)
class Readings:
    """n readings, each on its stack.

    diameter_mm, at_mm (n,): at_mm is NaN where the station is not known. whip, maker, condition, method (n,):
    positions in ``whips`` (labels), ``makers``, ``conditions``, ``methods``; -1 where a maker or a condition
    is not noted. inner, doubtful (n,): as in ``Observation``.
    """

    stacks: StackColumns
    diameter_mm: Array
    at_mm: Array
    whip: Codes
    maker: Codes
    condition: Codes
    method: Codes
    inner: NDArray[np.bool_]
    doubtful: NDArray[np.bool_]
    whips: tuple[str, ...]
    makers: tuple[str, ...]
    conditions: tuple[str, ...]
    methods: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.diameter_mm)

    def rows(self, chosen: Index) -> "Readings":
        """The readings at these positions, in this order; the lists of names stay as they are."""
        return Readings(
            self.stacks.rows(chosen),
            self.diameter_mm[chosen],
            self.at_mm[chosen],
            self.whip[chosen],
            self.maker[chosen],
            self.condition[chosen],
            self.method[chosen],
            self.inner[chosen],
            self.doubtful[chosen],
            self.whips,
            self.makers,
            self.conditions,
            self.methods,
        )

    def fingerprint(self) -> str:
        """SHA-256 of everything a fit sees: sizes, stations, stacks, sizes of cords, names."""
        digest = hashlib.sha256()
        for part in (self.stacks, self):
            for name, value in sorted(vars(part).items()):
                if isinstance(value, np.ndarray) and not name.startswith("_"):
                    digest.update(np.ascontiguousarray(value).tobytes())
        names = (self.whips, self.makers, self.conditions, self.methods, self.stacks.lots)
        digest.update(repr((names, [_sizes(cord) for cord in self.stacks.cords])).encode())
        return digest.hexdigest()

    def of_whips(self, codes: Index) -> "Readings":
        """All readings of these whips (positions in ``whips``), in the order they stand in."""
        wanted = np.zeros(len(self.whips), dtype=bool)
        wanted[codes] = True
        return self.rows(np.flatnonzero(wanted[self.whip]))


def _sizes(cord: Cord) -> tuple[object, ...]:
    return (
        cord.name,
        cord.material,
        cord.construction,
        cord.diameter_mm,
        cord.pressed_mm,
        cord.flat_width_mm,
        cord.linear_density_g_per_m,
        cord.fibre_density_g_per_cm3,
    )


def readings(observations: Sequence[Observation] | Readings) -> Readings:
    """Observations as columns; names are numbered in the order in which they first occur."""
    if isinstance(observations, Readings):
        return observations
    whips: dict[str, int] = {}
    told = levels(
        [o.maker for o in observations],
        [o.condition for o in observations],
        [o.method for o in observations],
        [o.inner for o in observations],
    )
    return Readings(
        stacks=stack_columns([o.stack for o in observations]),
        diameter_mm=np.array([o.diameter_mm for o in observations], dtype=np.float64),
        at_mm=np.array([np.nan if o.at_mm is None else o.at_mm for o in observations], dtype=np.float64),
        whip=_coded([o.whip for o in observations], whips),
        doubtful=np.array([o.doubtful for o in observations], dtype=np.bool_),
        whips=tuple(whips),
        **vars(told),
    )


def _coded(names: Sequence[str | None], place: dict[str, int]) -> Codes:
    codes = [-1 if name is None else place.setdefault(name, len(place)) for name in names]
    return np.array(codes, dtype=np.int32)


def joined(parts: Sequence[Readings]) -> Readings:
    """All readings of all parts; equal names, cords and lots are one."""
    places: dict[str, dict[str, int]] = {"whip": {}, "maker": {}, "condition": {}, "method": {}}

    def codes(name: str) -> Codes:
        found = []
        for part in parts:
            old, names = getattr(part, name), getattr(part, f"{name}s")
            new = np.array([places[name].setdefault(x, len(places[name])) for x in names], dtype=np.int32)
            found.append(np.where(old >= 0, new[np.maximum(old, 0)], -1) if len(new) else old)
        return np.concatenate(found).astype(np.int32)

    coded = {name: codes(name) for name in places}
    return Readings(
        stacks=joined_stacks([part.stacks for part in parts]),
        diameter_mm=np.concatenate([part.diameter_mm for part in parts]),
        at_mm=np.concatenate([part.at_mm for part in parts]),
        inner=np.concatenate([part.inner for part in parts]),
        doubtful=np.concatenate([part.doubtful for part in parts]),
        whips=tuple(places["whip"]),
        makers=tuple(places["maker"]),
        conditions=tuple(places["condition"]),
        methods=tuple(places["method"]),
        **coded,
    )
