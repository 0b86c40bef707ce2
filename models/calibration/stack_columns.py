"""Many stacks as columns of numbers, free of any constant of the model.

What is cheap to keep, to join and to cut: one entry per layer and one per group of strands, each saying which
row (stack) it belongs to. ``packed.pack`` lays them out as arrays under given constants.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.stack import PLAITED, Stack, StackLayer
from plaitlog.models.whip import Cord

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Item = TypeVar("Item")

ABSENT: Final = 0
PARALLEL: Final = 1
FILLER: Final = 2
PLAIT: Final = 3
GIVEN_DIAMETER: Final = 4
GIVEN_THICKNESS: Final = 5


@dataclass(frozen=True, eq=False)
class StackColumns:
    """n stacks.

    foundation (n,) in mm, 0 where none runs. layer_*: one entry per layer, by row and from the inside out:
    its row, its place (0 innermost), its kind, ``given`` (the stated diameter or thickness in mm, else 0),
    ``turn`` (measured turn length in mm, 0 where none is), slot, ``float_length`` (mean number of strands
    passed at once, 0 where no pattern is noted). group_*: one entry per group of strands: row, place,
    position in ``cords``, whether gutted, position in ``lots`` (-1: none noted), lowest and highest count.
    """

    foundation: Array
    layer_row: Index
    layer_place: Index
    layer_kind: NDArray[np.int8]
    layer_given: Array
    layer_turn: Array
    layer_slot: Index
    layer_float: Array
    group_row: Index
    group_place: Index
    group_cord: Index
    group_gutted: NDArray[np.bool_]
    group_lot: Index
    group_low: Array
    group_high: Array
    cords: tuple[Cord, ...]
    lots: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.foundation)

    @cached_property
    def _layer_starts(self) -> Index:
        return np.searchsorted(self.layer_row, np.arange(len(self) + 1))

    @cached_property
    def _group_starts(self) -> Index:
        return np.searchsorted(self.group_row, np.arange(len(self) + 1))

    def rows(self, chosen: Index) -> "StackColumns":
        """The stacks at these positions, in this order; cords and lots stay as they are."""
        layers, layer_row = _entries_of(self._layer_starts, chosen)
        groups, group_row = _entries_of(self._group_starts, chosen)
        return StackColumns(
            foundation=self.foundation[chosen],
            layer_row=layer_row,
            layer_place=self.layer_place[layers],
            layer_kind=self.layer_kind[layers],
            layer_given=self.layer_given[layers],
            layer_turn=self.layer_turn[layers],
            layer_slot=self.layer_slot[layers],
            layer_float=self.layer_float[layers],
            group_row=group_row,
            group_place=self.group_place[groups],
            group_cord=self.group_cord[groups],
            group_gutted=self.group_gutted[groups],
            group_lot=self.group_lot[groups],
            group_low=self.group_low[groups],
            group_high=self.group_high[groups],
            cords=self.cords,
            lots=self.lots,
        )


def _entries_of(starts: Index, chosen: Index) -> tuple[Index, Index]:
    """Positions of the entries of the chosen rows, and their rows counted anew."""
    first, sizes = starts[:-1][chosen], np.diff(starts)[chosen]
    ends = np.cumsum(sizes)
    total = int(ends[-1]) if len(ends) else 0
    return np.repeat(first - (ends - sizes), sizes) + np.arange(total), np.repeat(
        np.arange(len(chosen)), sizes
    )


def stack_columns(stacks: Sequence[Stack]) -> StackColumns:
    """Lay stacks out as columns. A cord that is the same object everywhere is listed once."""
    cord_place: dict[int, int] = {}
    cords: list[Cord] = []
    lots: dict[str, int] = {}
    layers: list[tuple[int, int, int, float, float, int, float]] = []
    groups: list[tuple[int, int, int, bool, int, float, float]] = []
    for row, stack in enumerate(stacks):
        for place, layer in enumerate(stack.layers):
            layers.append((row, place, *_described(layer)))
            for group in layer.groups:
                index = cord_place.get(id(group.cord))
                if index is None:
                    index = cord_place[id(group.cord)] = len(cords)
                    cords.append(group.cord)
                lot = -1 if group.lot is None else lots.setdefault(group.lot, len(lots))
                groups.append((row, place, index, group.gutted, lot, group.count.low, group.count.high))
    layer_table = np.array(layers, dtype=np.float64).reshape(-1, 7).T
    group_table = np.array(groups, dtype=np.float64).reshape(-1, 7).T
    return StackColumns(
        foundation=np.array([stack.foundation_mm for stack in stacks], dtype=np.float64),
        layer_row=layer_table[0].astype(np.intp),
        layer_place=layer_table[1].astype(np.intp),
        layer_kind=layer_table[2].astype(np.int8),
        layer_given=layer_table[3].copy(),
        layer_turn=layer_table[4].copy(),
        layer_slot=layer_table[5].astype(np.intp),
        layer_float=layer_table[6].copy(),
        group_row=group_table[0].astype(np.intp),
        group_place=group_table[1].astype(np.intp),
        group_cord=group_table[2].astype(np.intp),
        group_gutted=group_table[3].astype(np.bool_),
        group_lot=group_table[4].astype(np.intp),
        group_low=group_table[5].copy(),
        group_high=group_table[6].copy(),
        cords=tuple(cords),
        lots=tuple(lots),
    )


def _described(layer: StackLayer) -> tuple[int, float, float, int, float]:
    if layer.diameter_mm is not None:
        return GIVEN_DIAMETER, layer.diameter_mm, 0.0, layer.slot, 0.0
    if layer.thickness_mm is not None:
        return GIVEN_THICKNESS, layer.thickness_mm, 0.0, layer.slot, 0.0
    if layer.role in PLAITED:
        return PLAIT, 0.0, layer.turn_mm or 0.0, layer.slot, mean_float(layer.pattern)
    return FILLER if layer.role == "filler" else PARALLEL, 0.0, 0.0, layer.slot, 0.0


def mean_float(pattern: str | None) -> float:
    """Mean number of strands passed at once: 2 for u2o2u2o2, 1.5 for u1o2; 0 where none is noted."""
    if not pattern:
        return 0.0
    floats = [int(x) for x in pattern.replace("u", " ").replace("o", " ").split()]
    return sum(floats) / len(floats)


def joined(parts: Sequence[StackColumns]) -> StackColumns:
    """All stacks of all parts; a cord or a lot that several parts list equally is listed once."""
    cord_place: dict[Cord, int] = {}
    lot_place: dict[str, int] = {}
    cord_maps = [_mapped(part.cords, cord_place) for part in parts]
    lot_maps = [_mapped(part.lots, lot_place) for part in parts]
    offsets = np.concatenate([[0], np.cumsum([len(part) for part in parts])]).astype(np.intp)

    def together(name: str) -> NDArray[np.generic]:
        return np.concatenate([getattr(part, name) for part in parts])

    def shifted(name: str) -> Index:
        return np.concatenate(
            [getattr(part, name) + offset for part, offset in zip(parts, offsets, strict=False)]
        ).astype(np.intp)

    same = {
        name: together(name)
        for name in (
            "foundation", "layer_place", "layer_kind", "layer_given", "layer_turn", "layer_slot",
            "layer_float", "group_place", "group_gutted", "group_low", "group_high",
        )
    }  # fmt: skip
    return StackColumns(
        layer_row=shifted("layer_row"),
        group_row=shifted("group_row"),
        group_cord=_renamed([part.group_cord for part in parts], cord_maps),
        group_lot=_renamed([part.group_lot for part in parts], lot_maps),
        cords=tuple(cord_place),
        lots=tuple(lot_place),
        **same,  # type: ignore[arg-type]
    )


def _mapped(items: Sequence[Item], place: dict[Item, int]) -> Index:
    return np.array([place.setdefault(item, len(place)) for item in items], dtype=np.intp)


def _renamed(codes: Sequence[Index], maps: Sequence[Index]) -> Index:
    found = [
        np.where(code >= 0, mapping[np.maximum(code, 0)], -1) if len(mapping) else np.full(len(code), -1)
        for code, mapping in zip(codes, maps, strict=True)
    ]
    return np.concatenate(found).astype(np.intp)
