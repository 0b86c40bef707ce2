"""Columns hold what observations say: cut and joined in any way they give the same rows of the regression."""

import numpy as np
import pytest
from hypothesis import given, settings

from plaitlog.models.calibration.packed import PackedStacks, pack
from plaitlog.models.calibration.parameters import Parameters
from plaitlog.models.calibration.readings import Readings, joined, readings
from plaitlog.models.calibration.stack_columns import stack_columns
from plaitlog.models.stack import Stack
from tests.calibration.laid_whips import whips
from tests.calibration.test_resolve import STACKS

CONSTANTS = Parameters().geometry


def cells(packed: PackedStacks, row: int) -> list[object]:
    """What lies in one stack, whatever the numbering of cords and the depth of the others."""
    depth = int(np.max(np.flatnonzero(packed.kind[row]), initial=-1)) + 1
    names = (
        "kind",
        "given",
        "turn",
        "slot",
        "float_length",
        "area",
        "width",
        "count",
        "log_packing",
        "hollow",
    )
    strands = [
        (packed.group_layer[k], packed.cords[packed.group_cord[k]], packed.group_share[k])
        for k in np.flatnonzero(packed.group_row == row).tolist()
    ]
    return [packed.foundation[row], *(getattr(packed, x)[row, :depth].tolist() for x in names), strands]


def told(rows: Readings) -> list[object]:
    packed = pack(rows.stacks, CONSTANTS)
    return [
        [
            cells(packed, k),
            rows.diameter_mm[k],
            rows.whips[rows.whip[k]],
            rows.makers[rows.maker[k]] if rows.maker[k] >= 0 else None,
            rows.methods[rows.method[k]],
            bool(rows.inner[k]),
        ]
        for k in range(len(rows))
    ]


@pytest.fixture(scope="module")
def everything() -> Readings:
    return readings(whips(9, {"A": 0.1}, seed=3))


def test_cut_and_joined_again(everything: Readings) -> None:
    order = np.random.default_rng(0).permutation(len(everything))
    parts = [everything.rows(part) for part in np.array_split(order, 4)]
    again = joined(parts).rows(np.argsort(order))
    assert told(again) == told(everything)


def test_readings_of_some_whips(everything: Readings) -> None:
    chosen = everything.of_whips(np.array([2, 5]))
    wanted = {everything.whips[2], everything.whips[5]}
    assert {chosen.whips[k] for k in chosen.whip} == wanted
    assert len(chosen) == int(np.isin(everything.whip, [2, 5]).sum()) > 0


@settings(deadline=None)
@given(STACKS)
def test_stacks_are_packed_alike_alone_and_together(stacks: list[Stack]) -> None:
    together = pack(stacks, CONSTANTS)
    backwards = pack(stack_columns(stacks).rows(np.arange(len(stacks))[::-1]), CONSTANTS)
    for k, stack in enumerate(stacks):
        alone = cells(pack([stack], CONSTANTS), 0)
        assert cells(together, k) == alone
        assert cells(backwards, len(stacks) - 1 - k) == alone
