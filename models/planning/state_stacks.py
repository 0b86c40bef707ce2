"""The stack of a state: what is settled at a station, and what each planned layer puts there."""

from collections.abc import Sequence
from dataclasses import replace

from plaitlog.models.planning.asked import Asked
from plaitlog.models.planning.levels import Levels
from plaitlog.models.stack import Stack, StackLayer, StackRole, StrandGroup, layer_at
from plaitlog.models.whip import Layer, exactly

Given = tuple[tuple[bool, tuple[StackLayer, ...]], ...]
"""By slot: whether all of it is settled, and what is."""


def given_at(asked: Asked, at_mm: float) -> Given:
    """By slot what is settled of the stack: layers that are not planned, and those begun, behind where they
    stand whole, ahead of it their filler."""
    found: list[tuple[bool, tuple[StackLayer, ...]]] = []
    for slot, layer in enumerate(asked.layers, start=1):
        if isinstance(layer, Layer):
            found.append((True, tuple(layer_at(layer, slot, at_mm, asked.cords))))
        elif layer.begun is None:
            found.append((False, ()))
        else:
            there = layer_at(_plaited(layer.begun, layer.begun_to_mm), slot, at_mm, asked.cords)
            whole = at_mm <= layer.begun_to_mm
            found.append((whole, tuple(x for x in there if whole or x.role == "filler")))
    return tuple(found)


def _plaited(layer: Layer, to_mm: float) -> Layer:
    """A layer without the drops that lie ahead of where it stands."""
    assert layer.schedule is not None
    steps = tuple(step for step in layer.schedule.steps if step.place.high_mm <= to_mm)
    return replace(layer, schedule=replace(layer.schedule, steps=steps, rest="point"))


def stack_of(
    levels: Sequence[Levels],
    planned: Sequence[Sequence[StackLayer]],
    given: Given,
    foundation_mm: float,
) -> Stack | None:
    """The stack of a state at a station; None where nothing runs.

    planned : what each of ``levels`` puts there (``planned_layers``).
    """
    by_slot = {one.slot: found for one, found in zip(levels, planned, strict=True)}
    layers: list[StackLayer] = []
    for slot, (settled, known) in enumerate(given, start=1):
        layers.extend(known)
        if not settled:
            layers.extend(by_slot[slot])
    return Stack(tuple(layers), foundation_mm) if layers or foundation_mm else None


def planned_layers(levels: Levels, count: int, tucked: bool, at_mm: float) -> list[StackLayer]:
    """What a planned layer puts into the stack: strands that run on inside, then those that are plaited."""
    layer = levels.layer
    before = count
    until = layer.fate.until_mm
    if layer.fate.kind == "run" and (until is None or at_mm < until):
        before = levels.counts[0]
    elif tucked and count:
        before = count + levels.step
    running = layer.split(count)
    inside = [was - now for was, now in zip(layer.split(before), running, strict=True)]
    found = []
    if any(inside):
        found.append(_strands(levels, "filler", inside, layer.fate.gutted))
    if count:
        found.append(_strands(levels, layer.role, running, False))
    return found


def _strands(levels: Levels, role: StackRole, counts: Sequence[int], gutted: bool) -> StackLayer:
    groups = tuple(
        StrandGroup(one.cord, exactly(count), gutted)
        for one, count in zip(levels.layer.cords, counts, strict=True)
        if count
    )
    return StackLayer(role=role, groups=groups, slot=levels.slot)
