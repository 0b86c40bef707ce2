"""Many stacks as arrays: one row per stack, one column per layer, inside out, padded with absent layers."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from plaitlog.models.calibration.stack_columns import ABSENT as ABSENT
from plaitlog.models.calibration.stack_columns import FILLER as FILLER
from plaitlog.models.calibration.stack_columns import GIVEN_DIAMETER as GIVEN_DIAMETER
from plaitlog.models.calibration.stack_columns import GIVEN_THICKNESS as GIVEN_THICKNESS
from plaitlog.models.calibration.stack_columns import PARALLEL as PARALLEL
from plaitlog.models.calibration.stack_columns import PLAIT as PLAIT
from plaitlog.models.calibration.stack_columns import Array as Array
from plaitlog.models.calibration.stack_columns import Index as Index
from plaitlog.models.calibration.stack_columns import StackColumns, stack_columns
from plaitlog.models.geometry import (
    GeometryConstants,
    area_is_measured,
    bare_packing,
    cord_diameter_mm,
    flat_width_mm,
    strand_area_mm2,
    width_is_measured,
)
from plaitlog.models.stack import Stack
from plaitlog.models.whip import Cord

PRESSED: Final = 0.65
"""Fibre share of a strand pressed shut between caliper jaws: physical reasoning, about as in a laid rope."""


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
    unmeasured_width: float
    softness_guessed: float


@dataclass(frozen=True)
class PackedStacks:
    """n stacks of at most L layers.

    kind, given, turn, slot, float_length, area (fibre, all strands), width (n w), count, count_variance and
    the area-weighted cord properties (log_diameter, log_packing, hollow, solid, softness, measured):
    (n, L). ``given`` is the stated diameter or thickness in mm; ``turn`` is infinite where not measured;
    ``float_length`` is the mean number of strands passed at once, 0 where no pattern is noted.
    group_*: one entry per strand group: row, layer, position in ``cords``, its share of the layer's fibre
    and of its width, position in ``lots`` (-1: none noted).
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
    group_width_share: Array
    group_lot: Index
    cords: tuple[CordProperties, ...]
    lots: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.foundation)


@lru_cache(maxsize=4096)
def cord_properties(cord: Cord, gutted: bool, constants: GeometryConstants) -> CordProperties:
    """Sizes of a cord in a layer; a size that is not noted is taken as ``geometry`` takes it.

    ``softness`` is log(a / (pressed w)) against ``PRESSED``, 0 where pressed thickness or weight is not
    known; ``softness_guessed``: 1 where its w is not measured.
    """
    diameter = cord_diameter_mm(cord, constants)
    whole = strand_area_mm2(cord, False, constants)
    measured = cord.pressed_mm is not None and area_is_measured(cord)
    softness = 0.0
    if measured:
        assert cord.pressed_mm is not None
        softness = float(np.log(whole / (cord.pressed_mm * flat_width_mm(cord, False, constants)) / PRESSED))
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
        unmeasured_width=float(not width_is_measured(cord, gutted)),
        softness_guessed=float(measured and not width_is_measured(cord)),
    )


def pack(stacks: Sequence[Stack] | StackColumns, constants: GeometryConstants) -> PackedStacks:
    """Lay stacks out as arrays under these constants. Layers in which no strand runs are absent."""
    columns = stacks if isinstance(stacks, StackColumns) else stack_columns(stacks)
    # A stack may be a bare foundation: one column, absent everywhere, keeps the arrays two-dimensional.
    n, width = len(columns), 1 + int(columns.layer_place.max(initial=0))
    shape = (n, width)
    at = (columns.layer_row, columns.layer_place)

    def spread(values: NDArray[Any], dtype: type = np.float64) -> NDArray[Any]:
        field: NDArray[Any] = np.zeros(shape, dtype=dtype)
        field[at] = values
        return field

    of_row, of_layer = columns.group_row, columns.group_place
    strands = (columns.group_low + columns.group_high) / 2
    cords, cord = _as_they_lie(columns, constants)
    cell = of_row * width + of_layer

    def total(values: Array) -> Array:
        found: Array = np.bincount(cell, values, n * width).astype(np.float64)
        return found.reshape(shape)

    def of_cords(name: str) -> Array:
        return np.array([getattr(x, name) for x in cords], dtype=np.float64)[cord]

    area = strands * of_cords("area_mm2") if cords else np.zeros(0)
    flat = strands * of_cords("width_mm") if cords else np.zeros(0)
    layer_area, layer_width = total(area), total(flat)
    kind = spread(columns.layer_kind, np.int8)
    kind[(layer_area == 0) & (kind <= PLAIT)] = ABSENT
    share = area / np.maximum(layer_area[of_row, of_layer], 1e-12)

    def averaged(name: str) -> Array:
        return total(share * of_cords(name)) if cords else np.zeros(shape)

    turn = spread(columns.layer_turn)
    return PackedStacks(
        foundation=columns.foundation,
        kind=kind,
        given=spread(columns.layer_given),
        turn=np.where(turn > 0, turn, np.inf),
        slot=spread(columns.layer_slot, np.intp),
        float_length=spread(columns.layer_float),
        area=layer_area,
        width=layer_width,
        count=total(strands),
        count_variance=total((columns.group_high - columns.group_low) ** 2 / 12),
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
        group_width_share=flat / np.maximum(layer_width[of_row, of_layer], 1e-12),
        group_lot=columns.group_lot,
        cords=cords,
        lots=columns.lots,
    )


def _as_they_lie(
    columns: StackColumns, constants: GeometryConstants
) -> tuple[tuple[CordProperties, ...], Index]:
    """Every cord that occurs, whole and gutted apart, and which of them each group is."""
    code = columns.group_cord * 2 + columns.group_gutted
    there = np.bincount(code, minlength=1) > 0
    occurring = np.flatnonzero(there).tolist()
    cords = tuple(cord_properties(columns.cords[k // 2], bool(k % 2), constants) for k in occurring)
    return cords, (np.cumsum(there) - 1)[code].astype(np.intp)
