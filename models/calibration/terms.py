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
    "unmeasured_width": "sd_unmeasured_width",
    "unpressed": "sd_unpressed",
    "condition": "sd_condition",
    "method": "sd_method",
    "inner": "sd_inner",
}
"""Keyed blocks whose standard deviation is a parameter; the others have a variance component."""
COMPONENTS: Final = ("cord", "cord_role", "cord_count", "smooth", "maker", "lot")
CORRECTION, WIDTH, SOFTNESS = 0, 1, 2
"""What an entry moves: the correction of its layer (of its row), log n w of its layer, or the softness."""


@dataclass(frozen=True)
class KeyedTerms:
    """Sparse columns. One entry each: row, layer (-1: on log D itself, times the pulled share or 1), name,
    and what it acts through: ``CORRECTION``, ``WIDTH`` or ``SOFTNESS``."""

    row: Index
    layer: Index
    key: Index
    value: Array
    names: tuple[str, ...]
    through: NDArray[np.int8]

    def occurring(self) -> tuple[str, ...]:
        """Sorted names of the columns that have an entry."""
        return tuple(sorted(self.names[k] for k in np.flatnonzero(np.bincount(self.key, minlength=1))))


def layer_terms(packed: PackedStacks) -> KeyedTerms:
    """Cord, cord in role, cord with strand count, lot, material, guessed area and guessed width of every
    strand group."""
    row, layer, cord, share = packed.group_row, packed.group_layer, packed.group_cord, packed.group_share
    plaited = packed.kind[row, layer] == PLAIT
    present = packed.kind[row, layer] != ABSENT
    lot, wide = packed.group_lot, packed.group_width_share
    row, layer, cord, lot, share, wide, plaited = (
        x[present] for x in (row, layer, cord, lot, share, wide, plaited)
    )
    count = np.rint(packed.count[row, layer]).astype(np.intp)
    names: dict[str, int] = {}
    parts: list[tuple[Index, Index, Index, Array, int]] = []

    def add(
        codes: Index,
        labels: Sequence[str],
        keep: Array | None = None,
        value: Array = share,
        through: int = CORRECTION,
    ) -> None:
        numbers = np.array([names.setdefault(label, len(names)) for label in labels], dtype=np.intp)
        found = numbers[codes]
        if keep is None:
            parts.append((row, layer, found, value, through))
        else:
            chosen = np.flatnonzero(keep)
            parts.append((row[chosen], layer[chosen], found[chosen], value[chosen], through))

    cords = packed.cords
    add(cord, ["cord:" + c.cord.name for c in cords])
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

    def where(name: str) -> Array:
        return np.array([getattr(c, name) for c in cords], dtype=float)[cord] if len(cords) else np.zeros(0)

    add(cord, ["unweighed:" + c.cord.name for c in cords], where("unweighed"))
    add(cord, ["unpressed:" + c.cord.name for c in cords], 1.0 - where("measured"))
    widths = ["unmeasured_width:" + c.cord.name for c in cords]
    add(cord, widths, where("unmeasured_width") * plaited, wide, WIDTH)
    # Softness is log(a / (pressed w)): it falls as w rises.
    add(cord, widths, where("softness_guessed"), -share, SOFTNESS)
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
    return KeyedTerms(
        row,
        np.full(len(row), -1, dtype=np.intp),
        key,
        np.ones(len(row)),
        tuple(names),
        np.zeros(len(row), dtype=np.int8),
    )


def _joined(parts: Sequence[tuple[Index, Index, Index, Array, int]], names: tuple[str, ...]) -> KeyedTerms:
    row, layer, key = (np.concatenate([part[k] for part in parts]) for k in range(3))
    value = np.concatenate([part[3] for part in parts])
    through = np.concatenate([np.full(len(part[0]), part[4], dtype=np.int8) for part in parts])
    return KeyedTerms(row, layer, key, value, names, through)


def both_terms(first: KeyedTerms, second: KeyedTerms) -> KeyedTerms:
    """The terms of both; their names must differ."""
    return KeyedTerms(
        np.concatenate([first.row, second.row]),
        np.concatenate([first.layer, second.layer]),
        np.concatenate([first.key, second.key + len(first.names)]),
        np.concatenate([first.value, second.value]),
        first.names + second.names,
        np.concatenate([first.through, second.through]),
    )
