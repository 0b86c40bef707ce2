"""What another plan of the same whip changes in its layers, in words."""

from collections.abc import Iterator, Sequence

from plaitlog.models.whip import Layer, Step
from plaitlog.service.usecases.planning.miss_words import said_on_tape
from plaitlog.service.usecases.shown_units import ShownUnits


def changed_layers(before: Sequence[Layer], after: Sequence[Layer], shown: ShownUnits) -> list[str]:
    """A line for each drop that is elsewhere, new or gone, layer by layer; none where all stays."""
    return [
        f"{layer.role} (layer {slot}): {words}"
        for slot, (old, layer) in enumerate(zip(before, after, strict=True), start=1)
        for words in _changes(old, layer, shown)
    ]


def _changes(old: Layer, new: Layer, shown: ShownUnits) -> Iterator[str]:
    before, after = _drops(old), _drops(new)
    begun, begins = _first(old), _first(new)
    if begun != begins:
        yield f"begins with {begins} strands, not {begun}"
    for count, at in after.items():
        was = before.get(count)
        place = said_on_tape(at, shown)
        if was is None:
            yield f"down to {count} at {place}, which was not planned"
        elif said_on_tape(was, shown) != place:
            way = "later" if at > was else "sooner"
            apart = said_on_tape(abs(at - was), shown)
            yield f"down to {count} at {place}, {apart} {way} than planned before"
    for count, at in before.items():
        if count not in after:
            yield f"no longer down to {count} at {said_on_tape(at, shown)}"


def _first(layer: Layer) -> int:
    steps = _steps(layer)
    return round(steps[0].total.mid) if steps else 0


def _drops(layer: Layer) -> dict[int, float]:
    """By the count that is left the place of the drop, mm."""
    return {round(step.total.mid): step.place.mid_mm for step in _steps(layer)[1:]}


def _steps(layer: Layer) -> tuple[Step, ...]:
    return () if layer.schedule is None else layer.schedule.steps
