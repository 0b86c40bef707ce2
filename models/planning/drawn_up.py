"""From the levels of the optimum to layers with strand schedules, as they stand in a record."""

from collections.abc import Sequence

import numpy as np

from plaitlog.models.planning.asked import Asked, AskedLayer, Rules
from plaitlog.models.planning.levels import Levels
from plaitlog.models.planning.optimum import Schedule
from plaitlog.models.whip import Fate, Layer, LayerCord, Place, Step, StrandSchedule, exactly


def drawn_up(asked: Asked, schedule: Schedule, levels: Sequence[Levels]) -> tuple[Layer, ...]:
    """All layers, innermost first: those that were given as they are, the planned ones with their drops."""
    by_slot = {one.slot: (one, schedule.levels[:, k]) for k, one in enumerate(levels)}
    return tuple(
        _layer(*by_slot[slot], asked.rules) if isinstance(layer, AskedLayer) else layer
        for slot, layer in enumerate(asked.layers, start=1)
    )


def _layer(levels: Levels, places: np.ndarray, rules: Rules) -> Layer:
    layer = levels.layer
    counts = [levels.counts[place] for place in places]
    begun = () if layer.begun is None or layer.begun.schedule is None else layer.begun.schedule.steps
    steps = [step for step in begun if step.place.high_mm <= layer.begun_to_mm]
    if not steps:
        steps.append(_step(layer, 0.0, counts[0], None))
    for node in range(1, len(counts)):
        if counts[node] != counts[node - 1]:
            # What is left where a plait ends is cut, whatever becomes of single strands before.
            ends = counts[node] == 0 and not levels.singly and layer.fate.kind == "tuck"
            steps.append(_step(layer, rules.place_mm(node), counts[node], Fate("cut") if ends else None))
    return Layer(
        role=layer.role,
        cords=layer_cords(layer),
        schedule=StrandSchedule(tuple(steps), rest="point"),
        fate=layer.fate,
    )


def layer_cords(layer: AskedLayer) -> tuple[LayerCord, ...]:
    """The cords as they are recorded, with their shares as they were asked for."""
    return tuple(LayerCord(one.cord.name, one.share) for one in layer.mixed or layer.cords)


def _step(layer: AskedLayer, at_mm: float, count: int, fate: Fate | None) -> Step:
    return Step(Place(at_mm, at_mm), tuple(map(exactly, layer.split(count))), fate)
