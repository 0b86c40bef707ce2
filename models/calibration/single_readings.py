"""Readings in columns one by one again: for few of them, and for whoever asks for a single stack."""

from collections import defaultdict
from fractions import Fraction
from functools import cache

from plaitlog.models.calibration.observations import Method, Observation
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.stack_columns import (
    FILLER,
    GIVEN_DIAMETER,
    GIVEN_THICKNESS,
    PLAIT,
    StackColumns,
)
from plaitlog.models.stack import Stack, StackLayer, StackRole, StrandGroup
from plaitlog.models.whip import Span


def observations(data: Readings) -> list[Observation]:
    """One observation a reading, in order; ``readings`` of them gives the same columns.

    Columns know less than a record does: a plait that others cover is a belly, a layer without strands a
    bolster, and a pattern is one with the same mean float.
    """
    stacks = _stacks(data.stacks)
    methods: list[Method] = ["girth" if name == "girth" else "caliper" for name in data.methods]
    return [
        Observation(
            stack=stack,
            diameter_mm=diameter,
            whip=data.whips[whip],
            maker=None if maker < 0 else data.makers[maker],
            at_mm=None if at != at else at,
            method=methods[method],
            condition=None if condition < 0 else data.conditions[condition],
            inner=inner,
            doubtful=doubtful,
        )
        for stack, diameter, at, whip, maker, condition, method, inner, doubtful in zip(
            stacks,
            data.diameter_mm.tolist(),
            data.at_mm.tolist(),
            data.whip.tolist(),
            data.maker.tolist(),
            data.condition.tolist(),
            data.method.tolist(),
            data.inner.tolist(),
            data.doubtful.tolist(),
            strict=True,
        )
    ]


def _stacks(columns: StackColumns) -> list[Stack]:
    groups: defaultdict[tuple[int, int], list[StrandGroup]] = defaultdict(list)
    for row, place, cord, gutted, lot, low, high in zip(
        columns.group_row.tolist(),
        columns.group_place.tolist(),
        columns.group_cord.tolist(),
        columns.group_gutted.tolist(),
        columns.group_lot.tolist(),
        columns.group_low.tolist(),
        columns.group_high.tolist(),
        strict=True,
    ):
        name = None if lot < 0 else columns.lots[lot]
        groups[row, place].append(StrandGroup(columns.cords[cord], Span(low, high), gutted, name))
    layers: list[list[StackLayer]] = [[] for _ in range(len(columns))]
    for row, place, kind, given, turn, slot, mean in zip(
        columns.layer_row.tolist(),
        columns.layer_place.tolist(),
        columns.layer_kind.tolist(),
        columns.layer_given.tolist(),
        columns.layer_turn.tolist(),
        columns.layer_slot.tolist(),
        columns.layer_float.tolist(),
        strict=True,
    ):
        layers[row].append(
            StackLayer(
                role=_ROLES.get(kind, "core"),
                groups=tuple(groups[row, place]),
                diameter_mm=given if kind == GIVEN_DIAMETER else None,
                thickness_mm=given if kind == GIVEN_THICKNESS else None,
                pattern=_pattern(mean),
                turn_mm=turn or None,
                slot=slot,
            )
        )
    return [
        Stack(_bellies_within(found), foundation)
        for found, foundation in zip(layers, columns.foundation.tolist(), strict=True)
    ]


_ROLES: dict[int, StackRole] = {
    FILLER: "filler",
    PLAIT: "overlay",
    GIVEN_DIAMETER: "bolster",
    GIVEN_THICKNESS: "bolster",
}


def _bellies_within(layers: list[StackLayer]) -> tuple[StackLayer, ...]:
    """Every plaited layer but the outermost as a belly."""
    plaited = [k for k, layer in enumerate(layers) if layer.role == "overlay"]
    for k in plaited[:-1]:
        x = layers[k]
        layers[k] = StackLayer(
            role="belly", groups=x.groups, pattern=x.pattern, turn_mm=x.turn_mm, slot=x.slot
        )
    return tuple(layers)


@cache
def _pattern(mean: float) -> str | None:
    """A pattern whose floats have this mean: u2 for 2, u1o2 for 1.5."""
    if mean == 0.0:
        return None
    exact = Fraction(mean).limit_denominator(1000)
    short, longer = divmod(exact.numerator, exact.denominator)
    floats = [short] * (exact.denominator - longer) + [short + 1] * longer
    return "".join(f"{'uo'[k % 2]}{size}" for k, size in enumerate(floats))
