"""Stretches of a whip over which its stack does not change, as the fit has them."""

from collections.abc import Iterator, Mapping
from itertools import pairwise

from plaitlog.models.calibration.prediction import Prediction, Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import Stack, StackLayer, stack_at, tuck_mm, turn_changes
from plaitlog.models.whip import Cord, Foundation, Layer, Step, Whip
from plaitlog.service.reports.drawn_whip import Section, SectionLayer
from plaitlog.service.usecases.observing import REASONS, is_inner
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits


def handle_end(whip: Whip) -> float | None:
    """Station where the handle ends; None where there is none or it is not noted."""
    if not whip.handle_length_mm:
        return None
    return whip.handle_length_mm if whip.datum == "butt" else 0.0


def foundation_end(whip: Whip) -> float:
    """Station where the foundation ends: as noted, else at the end of the handle."""
    foundation = whip.foundation
    if isinstance(foundation, Foundation) and foundation.to_mm is not None:
        return foundation.to_mm
    return handle_end(whip) or 0.0


def changes(whip: Whip) -> Iterator[float]:
    """Every place where the stack may change."""
    for layer in whip.layers:
        yield from (place for place in (layer.from_mm, layer.to_mm) if place is not None)
        for step in layer.schedule.steps if layer.schedule else ():
            yield from (step.place.low_mm, step.place.high_mm)
            yield from _filler_ends(layer, step)
    if isinstance(whip.foundation, Foundation):
        yield foundation_end(whip)
    yield from turn_changes(whip)


def _filler_ends(layer: Layer, step: Step) -> Iterator[float]:
    fate = step.fate or layer.fate
    if fate is not None and fate.kind == "tuck":
        yield from (step.place.low_mm + tuck_mm(fate), step.place.high_mm + tuck_mm(fate))
    elif fate is not None and fate.kind == "run" and fate.until_mm is not None:
        yield fate.until_mm


def sections_of(
    in_force: InForce,
    whip: Whip,
    cords: Mapping[str, Cord],
    shown: ShownUnits,
    start_mm: float,
    end_mm: float,
) -> tuple[Section, ...]:
    """The whip (placed) from ``start_mm`` to ``end_mm`` in sections, one after the other, none left out."""
    inside = {place for place in changes(whip) if start_mm < place < end_mm}
    stretches: list[tuple[float, float, Stack | str]] = []
    for low, high in pairwise(sorted({start_mm, end_mm, *inside})):
        stack = _stack(whip, (low + high) / 2, cords)
        if stretches and stretches[-1][2] == stack:
            stretches[-1] = (stretches[-1][0], high, stack)
        else:
            stretches.append((low, high, stack))
    asked = [
        _query(whip, stack, upto, (low + high) / 2)
        for low, high, stack in stretches
        if isinstance(stack, Stack)
        for upto in range(1, len(stack.layers) + 1)
    ]
    answers = iter(in_force.predict(asked))
    return tuple(
        Section(from_mm=low, to_mm=high, reason=stack)
        if isinstance(stack, str)
        else _section(low, high, stack, [next(answers) for _ in stack.layers], shown)
        for low, high, stack in stretches
    )


def _stack(whip: Whip, at_mm: float, cords: Mapping[str, Cord]) -> Stack | str:
    """The stack at a station, or why it is not known."""
    try:
        return stack_at(whip, at_mm, cords)
    except StackNotKnownError as error:
        return error.finding.text if whip.layers else REASONS["no-layers"]


def _query(whip: Whip, stack: Stack, upto: int, at_mm: float) -> Query:
    """What is asked of the innermost ``upto`` layers of a stack, while the last of them was outermost."""
    inner = upto < len(stack.layers) and is_inner(whip, stack.layers[upto - 1].slot)
    return Query(
        stack=Stack(stack.layers[:upto], stack.foundation_mm), maker=whip.maker, at_mm=at_mm, inner=inner
    )


def _section(low: float, high: float, stack: Stack, told: list[Prediction], shown: ShownUnits) -> Section:
    """A section of a known stack; each layer lies over the one before and under the finished diameter."""
    if not told:
        bare = stack.foundation_mm
        return Section(
            from_mm=low, to_mm=high, foundation_mm=bare, diameter_mm=bare, low_90_mm=bare, high_90_mm=bare
        )
    finished = told[-1]
    outer = min(stack.foundation_mm, finished.diameter_mm)
    layers = []
    for layer, prediction in zip(stack.layers, told, strict=True):
        outer = min(max(outer, prediction.diameter_mm), finished.diameter_mm)
        layers.append(_section_layer(layer, outer, shown))
    return Section(
        from_mm=low,
        to_mm=high,
        layers=tuple(layers),
        foundation_mm=stack.foundation_mm,
        diameter_mm=finished.diameter_mm,
        low_90_mm=finished.low_90_mm,
        high_90_mm=finished.high_90_mm,
        uncertain=any(not group.count.exact for layer in stack.layers for group in layer.groups),
    )


def _section_layer(layer: StackLayer, outer_mm: float, shown: ShownUnits) -> SectionLayer:
    given = ""
    if layer.diameter_mm is not None:
        given = shown.diameter(layer.diameter_mm)
    elif layer.thickness_mm is not None:
        given = f"{layer.thickness_mm:g} mm"
    return SectionLayer(
        place=layer.slot,
        role=layer.role,
        outer_mm=outer_mm,
        count=None if given else layer.count,
        given=given,
    )
