"""Many stacks as arrays: one row per stack, one column per layer, inside out, padded with absent layers."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.geometry import (
    GeometryConstants,
    area_is_measured,
    bare_packing,
    cord_diameter_mm,
    flat_width_mm,
    strand_area_mm2,
)
from plaitlog.models.stack import PLAITED, Stack, StackLayer
from plaitlog.models.whip import Cord

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ABSENT: Final = 0
PARALLEL: Final = 1
FILLER: Final = 2
PLAIT: Final = 3
GIVEN_DIAMETER: Final = 4
GIVEN_THICKNESS: Final = 5


@dataclass(frozen=True)
class CordProperties:
    """One cord as it lies in a layer (whole or gutted), its sizes filled in where they are not noted."""

    cord: Cord
    area_mm2: float
    width_mm: float
    log_diameter: float
    log_packing: float
    hollow: float
    solid: float
    softness: float
    measured: float
    unweighed: float


@dataclass(frozen=True)
class PackedStacks:
    """n stacks of at most L layers.

    kind, given, turn, slot, float_length, area (fibre, all strands), width (n w), count, count_variance and
    the area-weighted cord properties (log_diameter, log_packing, hollow, solid, softness, measured):
    (n, L). ``given`` is the stated diameter or thickness in mm; ``turn`` is infinite where not measured;
    ``float_length`` is the mean number of strands passed at once, 0 where no pattern is noted.
    group_*: one entry per strand group: row, layer, position in ``cords``, its share of the layer's fibre.
    """

    foundation: Array
    kind: NDArray[np.int8]
    given: Array
    turn: Array
    slot: Index
    float_length: Array
    area: Array
    width: Array
    count: Array
    count_variance: Array
    log_diameter: Array
    log_packing: Array
    hollow: Array
    solid: Array
    softness: Array
    measured: Array
    group_row: Index
    group_layer: Index
    group_cord: Index
    group_share: Array
    cords: tuple[CordProperties, ...]

    def __len__(self) -> int:
        return len(self.foundation)


def cord_properties(cord: Cord, gutted: bool, constants: GeometryConstants) -> CordProperties:
    """Sizes of a cord in a layer; a size that is not noted is taken as ``geometry`` takes it.

    ``softness`` is log(a / (pressed w)) against 0.65, 0 where pressed thickness or weight is not known.
    """
    diameter = cord_diameter_mm(cord, constants)
    whole = strand_area_mm2(cord, False, constants)
    measured = cord.pressed_mm is not None and area_is_measured(cord)
    softness = 0.0
    if measured:
        assert cord.pressed_mm is not None
        softness = float(np.log(whole / (cord.pressed_mm * flat_width_mm(cord, False, constants)) / 0.65))
    return CordProperties(
        cord=cord,
        area_mm2=strand_area_mm2(cord, gutted, constants),
        width_mm=flat_width_mm(cord, gutted, constants),
        log_diameter=float(np.log(diameter)),
        log_packing=float(np.log(bare_packing(whole, diameter))),
        hollow=float(gutted or cord.construction == "gutted"),
        solid=float(cord.construction == "solid"),
        softness=softness,
        measured=float(measured),
        unweighed=float(not area_is_measured(cord)),
    )


def pack(stacks: Sequence[Stack], constants: GeometryConstants) -> PackedStacks:
    """Lay stacks out as arrays. Layers in which no strand runs are absent."""
    # A stack may be a bare foundation: one column, absent everywhere, keeps the arrays two-dimensional.
    n, width = len(stacks), max(1, *(len(stack.layers) for stack in stacks)) if stacks else 1
    known: dict[tuple[int, bool], int] = {}
    cords: list[CordProperties] = []
    layers: list[tuple[int, int, int, float, float, int, float]] = []
    groups: list[tuple[int, int, int, float, float]] = []
    for row, stack in enumerate(stacks):
        for place, layer in enumerate(stack.layers):
            layers.append((row, place, *_described(layer)))
            for group in layer.groups:
                key = (id(group.cord), group.gutted)
                index = known.get(key)
                if index is None:
                    index = known[key] = len(cords)
                    cords.append(cord_properties(group.cord, group.gutted, constants))
                low, high = group.count.low, group.count.high
                groups.append((row, place, index, (low + high) / 2, (high - low) ** 2 / 12))

    shape = (n, width)
    table = np.array(layers, dtype=np.float64).reshape(-1, 7)
    at = (table[:, 0].astype(np.intp), table[:, 1].astype(np.intp))
    fields = [np.zeros(shape) for _ in range(5)]
    for values, column in zip(fields, table[:, 2:].T, strict=True):
        values[at] = column
    kind, given, turn, slot, float_length = fields
    rows = np.array(groups, dtype=np.float64).reshape(-1, 5)
    of_row, of_layer, cord = (rows[:, k].astype(np.intp) for k in range(3))
    strands = rows[:, 3]

    def total(values: Array) -> Array:
        found: Array = np.bincount(of_row * width + of_layer, values, n * width).astype(np.float64)
        return found.reshape(shape)

    def of_cords(name: str) -> Array:
        return np.array([getattr(x, name) for x in cords], dtype=np.float64)[cord]

    area = strands * of_cords("area_mm2") if cords else np.zeros(0)
    layer_area = total(area)
    kind[(layer_area == 0) & (kind <= PLAIT)] = ABSENT
    share = area / np.maximum(layer_area[of_row, of_layer], 1e-12)

    def averaged(name: str) -> Array:
        return total(share * of_cords(name)) if cords else np.zeros(shape)

    return PackedStacks(
        foundation=np.array([stack.foundation_mm for stack in stacks], dtype=np.float64),
        kind=kind.astype(np.int8),
        given=given,
        turn=np.where(turn > 0, turn, np.inf),
        slot=slot.astype(np.intp),
        float_length=float_length,
        area=layer_area,
        width=total(strands * of_cords("width_mm")) if cords else np.zeros(shape),
        count=total(strands),
        count_variance=total(rows[:, 4]),
        log_diameter=averaged("log_diameter"),
        log_packing=averaged("log_packing"),
        hollow=averaged("hollow"),
        solid=averaged("solid"),
        softness=averaged("softness"),
        measured=averaged("measured"),
        group_row=of_row,
        group_layer=of_layer,
        group_cord=cord,
        group_share=share,
        cords=tuple(cords),
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
