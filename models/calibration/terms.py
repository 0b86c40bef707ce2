"""Keyed columns: where the level of a cord, a role, a maker or a condition occurs in which row."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.packed import ABSENT, PLAIT, Array, Index, PackedStacks
from plaitlog.models.whip import UNSTATED_CONDITION

KNOWN_SD: Final = {
    "material": "sd_material",
    "unweighed": "sd_unweighed",
    "condition": "sd_condition",
    "method": "sd_method",
    "inner": "sd_inner",
}
"""Keyed blocks whose standard deviation is a parameter; the others have a variance component."""
COMPONENTS: Final = ("cord", "cord_measured", "cord_role", "cord_count", "smooth", "maker", "lot")


@dataclass(frozen=True)
class KeyedTerms:
    """Sparse columns. One entry each: row, layer (-1: on log D itself, times the pulled share or 1), name."""

    row: Index
    layer: Index
    key: Index
    value: Array
    names: tuple[str, ...]

    def occurring(self) -> tuple[str, ...]:
        """Sorted names of the columns that have an entry."""
        return tuple(sorted(self.names[k] for k in np.unique(self.key)))


def layer_terms(packed: PackedStacks) -> KeyedTerms:
    """Cord, cord in role, cord with strand count, lot, material and guessed area of every strand group."""
    row, layer, cord, share = packed.group_row, packed.group_layer, packed.group_cord, packed.group_share
    plaited = packed.kind[row, layer] == PLAIT
    present = packed.kind[row, layer] != ABSENT
    lot = packed.group_lot
    row, layer, cord, lot, share, plaited = (x[present] for x in (row, layer, cord, lot, share, plaited))
    count = np.rint(packed.count[row, layer]).astype(np.intp)
    names: dict[str, int] = {}
    parts: list[tuple[Index, Index, Index, Array]] = []

    def add(codes: Index, labels: Sequence[str], keep: Array | None = None) -> None:
        numbers = np.array([names.setdefault(label, len(names)) for label in labels], dtype=np.intp)
        found = numbers[codes]
        if keep is None:
            parts.append((row, layer, found, share))
        else:
            chosen = np.flatnonzero(keep)
            parts.append((row[chosen], layer[chosen], found[chosen], share[chosen]))

    cords = packed.cords
    add(cord, [("cord_measured:" if c.measured else "cord:") + c.cord.name for c in cords])
    roles = [f"cord_role:{c.cord.name}|{role}" for c in cords for role in ("bundle", "plait")]
    add(cord * 2 + plaited, roles)
    most = int(count.max(initial=0)) + 1
    pair = cord * most + count
    there = np.bincount(pair) > 0
    codes = (np.cumsum(there) - 1)[pair]
    counted = [f"cord_count:{cords[k // most].cord.name}|{k % most}" for k in np.flatnonzero(there).tolist()]
    add(codes.reshape(-1), counted, plaited.astype(float))
    if len(packed.lots) and (lot >= 0).any():
        of_cords = [f"lot:{c.cord.name}|{name}" for c in cords for name in packed.lots]
        add(cord * len(packed.lots) + np.maximum(lot, 0), of_cords, (lot >= 0).astype(float))
    add(cord, ["material:" + c.cord.material.strip().lower() for c in cords])
    unweighed = np.array([c.unweighed for c in cords], dtype=float)
    add(cord, ["unweighed:" + c.cord.name for c in cords], unweighed[cord] if len(cords) else np.zeros(0))
    return _joined(parts, tuple(names))


class RowLevels(Protocol):
    """Per row (n,): positions in the list of names beside it, -1 where none is noted; ``inner`` is bool."""

    @property
    def maker(self) -> NDArray[np.integer[Any]]: ...
    @property
    def makers(self) -> Sequence[str]: ...
    @property
    def condition(self) -> NDArray[np.integer[Any]]: ...
    @property
    def conditions(self) -> Sequence[str]: ...
    @property
    def method(self) -> NDArray[np.integer[Any]]: ...
    @property
    def methods(self) -> Sequence[str]: ...
    @property
    def inner(self) -> NDArray[np.bool_]: ...


def row_terms(rows: RowLevels) -> KeyedTerms:
    """Maker, condition (rolled where unstated), method and exposed inner layer of every row."""
    makers = ["maker:", *(f"maker:{name}" for name in rows.makers)]
    conditions = [None if x == UNSTATED_CONDITION else f"condition:{x}" for x in rows.conditions]
    methods = [None if x == "caliper" else f"method:{x}" for x in rows.methods]
    names: dict[str, int] = {}
    parts: list[tuple[Index, Index]] = []

    def add(codes: NDArray[np.integer[Any]], labels: Sequence[str | None]) -> None:
        occurring = np.bincount(codes[codes >= 0], minlength=len(labels)) > 0
        place = np.array(
            [
                names.setdefault(label, len(names)) if label is not None and there else -1
                for label, there in zip(labels, occurring.tolist(), strict=True)
            ],
            dtype=np.intp,
        )
        if len(place):
            key = np.where(codes >= 0, place[np.maximum(codes, 0)], -1)
            chosen = np.flatnonzero(key >= 0)
            parts.append((chosen, key[chosen]))

    add(rows.maker + 1, makers)
    add(rows.condition, conditions)
    add(rows.method, methods)
    add(np.where(rows.inner, 0, -1), ["inner:exposed"])
    row = np.concatenate([chosen for chosen, _ in parts])
    key = np.concatenate([found for _, found in parts])
    return KeyedTerms(row, np.full(len(row), -1, dtype=np.intp), key, np.ones(len(row)), tuple(names))


def _joined(parts: Sequence[tuple[Index, Index, Index, Array]], names: tuple[str, ...]) -> KeyedTerms:
    row, layer, key, value = (np.concatenate([part[k] for part in parts]) for k in range(4))
    return KeyedTerms(row, layer, key, value, names)


def both_terms(first: KeyedTerms, second: KeyedTerms) -> KeyedTerms:
    """The terms of both; their names must differ."""
    return KeyedTerms(
        np.concatenate([first.row, second.row]),
        np.concatenate([first.layer, second.layer]),
        np.concatenate([first.key, second.key + len(first.names)]),
        np.concatenate([first.value, second.value]),
        first.names + second.names,
    )
