"""One block of a bench sheet for each layer that is begun: its drops, what lies on it, where to measure."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.calibration.prediction import Observation, Prediction, Query
from plaitlog.models.calibration.whip_ratios import reckoned_weight
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import PLAITED, Stack, stack_at
from plaitlog.models.whip import Cord, Foundation, Layer, Whip
from plaitlog.models.whole_mass import whole_mass
from plaitlog.service.reports.bench_sheet_content import LayerBlock, MeasureRow
from plaitlog.service.usecases.observing import is_inner
from plaitlog.service.usecases.planning.replanning import Standing
from plaitlog.service.usecases.planning.sheet_outlines import outlines
from plaitlog.service.usecases.planning.sheet_places import measuring_places, on_tape, tape_text, tape_unit
from plaitlog.service.usecases.planning.sheet_rows import drop_rows
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.weighing import weighing_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOf:
    """What every block needs. bare_from_mm : nothing is measured before it; letters : of the cords.

    standing : how far the whip is, None before it is begun.
    """

    in_force: InForce
    whip: Whip
    cords: Mapping[str, Cord]
    shown: ShownUnits
    letters: Mapping[str, str]
    bare_from_mm: float
    readings: tuple[Observation, ...] = ()
    standing: Standing | None = None

    @property
    def point_mm(self) -> float:
        return self.whip.point_mm or 0.0

    def done_to_mm(self, slot: int) -> float:
        """How far a layer is plaited."""
        where = self.standing
        if where is None or slot > where.slot:
            return float("-inf")
        return where.to_mm if slot == where.slot else float("inf")


def layer_blocks(bench: SheetOf) -> tuple[LayerBlock, ...]:
    """A block for each layer that is not done, innermost first; a binding is part of its layer's."""
    groups = _groups(bench.whip.layers)
    return tuple(_block(bench, group) for group in groups if bench.done_to_mm(group[-1]) < float("inf"))


def measure_rows(bench: SheetOf, slots: Sequence[int]) -> tuple[MeasureRow, ...]:
    """Where to measure once the layers ``slots`` (one plaited, what lies on it) are there."""
    asked = []
    done_to_mm = bench.done_to_mm(slots[-1])
    for at in (place for place in _places(bench, slots[0]) if place > done_to_mm):
        # A binding need not run everywhere: what is read there is the last layer that does.
        for slot in reversed(slots):
            stack = _stack(bench, at, slot)
            if stack is not None:
                asked.append((at, slot, stack))
                break
    told = _predict(bench, [(stack, slot) for _, slot, stack in asked])
    unit = bench.shown.lengths
    return tuple(
        MeasureRow(
            station=tape_text(on_tape(at, unit), unit),
            on_layer=str(slot) if is_inner(bench.whip, slot) else "",
            interval=f"{bench.shown.diameter_number(one.low_90_mm)}–"
            f"{bench.shown.diameter_number(one.high_90_mm)}",
        )
        for (at, slot, _), one in zip(asked, told, strict=True)
    )


def layer_name(whip: Whip, slot: int) -> str:
    """Layer 2, belly."""
    return f"Layer {slot}, {whip.layers[slot - 1].role}"


def _groups(layers: Sequence[Layer]) -> list[list[int]]:
    found: list[list[int]] = []
    for slot, layer in enumerate(layers, start=1):
        if found and layer.role in ("binding", "bolster"):
            found[-1].append(slot)
        else:
            found.append([slot])
    return found


def _block(bench: SheetOf, slots: list[int]) -> LayerBlock:
    slot, *on_it = slots
    layer = bench.whip.layers[slot - 1]
    marks = _places(bench, slot)
    shape = outlines(bench.in_force, bench.whip, bench.cords, slot, bench.readings)
    return LayerBlock(
        title=layer_name(bench.whip, slot),
        to_do=tuple(_to_do(bench, layer)),
        rows=drop_rows(
            layer, bench.letters, bench.point_mm, marks, shape, bench.shown.lengths, bench.done_to_mm(slot)
        ),
        after=tuple(_laid_on(bench, one) for one in on_it),
        measures=measure_rows(bench, slots),
        weight=_weight(bench, slots[-1]),
    )


def _to_do(bench: SheetOf, layer: Layer) -> Iterator[str]:
    if layer.schedule is None or not layer.cords:
        yield _given(bench, layer)
        return
    first = layer.schedule.steps[0]
    cords = " and ".join(
        f"{count.mid:g} {'strand' if count.mid == 1 else 'strands'} of "
        f"{bench.letters.get(cord.cord, '')} ({cord.cord})"
        for count, cord in zip(first.counts, layer.cords, strict=True)
    )
    over = bench.whip.handle_length_mm and isinstance(bench.whip.foundation, Foundation)
    from_butt = ", from the butt, over the rod" if over and layer.role in PLAITED else ""
    yield f"Begin with {cords}{from_butt}."


def _laid_on(bench: SheetOf, slot: int) -> str:
    layer = bench.whip.layers[slot - 1]
    return f"{layer.role.capitalize()} (layer {slot}): {_given(bench, layer)}"


def _given(bench: SheetOf, layer: Layer) -> str:
    unit = bench.shown.lengths
    start = tape_text(on_tape(layer.from_mm or 0.0, unit), unit)
    end = (
        "the point"
        if layer.to_mm is None
        else f"{tape_text(on_tape(layer.to_mm, unit), unit)} {tape_unit(unit)}"
    )
    what = layer.what or layer.role
    if layer.diameter_mm is not None:
        return f"{what}, {bench.shown.diameter(layer.diameter_mm)} thick, from {start} to {end}."
    size = "" if layer.thickness_mm is None else f", {layer.thickness_mm:g} mm thick"
    return f"{what}{size}, from {start} to {end}."


def _run(bench: SheetOf, layer: Layer) -> tuple[float, float]:
    if layer.schedule is None or not layer.schedule.steps:
        return layer.from_mm or 0.0, bench.point_mm if layer.to_mm is None else layer.to_mm
    steps = layer.schedule.steps
    end = steps[-1].place.mid_mm if steps[-1].total.high == 0 else bench.point_mm
    return steps[0].place.mid_mm, end


def _places(bench: SheetOf, slot: int) -> list[float]:
    """Off every drop of the layers that lie there by then."""
    whip = bench.whip
    under = [at for layer in whip.layers[: slot - 1] for at in _changes(layer)]
    own = whip.layers[slot - 1]
    return measuring_places(_run(bench, own), _changes(own), bench.bare_from_mm, bench.shown.lengths, under)


def _changes(layer: Layer) -> Iterator[float]:
    yield from (place for place in (layer.from_mm, layer.to_mm) if place is not None)
    for step in layer.schedule.steps if layer.schedule else ():
        yield step.place.mid_mm


def _stack(bench: SheetOf, at_mm: float, slot: int) -> Stack | None:
    try:
        return stack_at(bench.whip, at_mm, bench.cords, slot)
    except StackNotKnownError:
        return None


def _predict(bench: SheetOf, asked: Sequence[tuple[Stack, int]]) -> list[Prediction]:
    if not asked:
        return []
    return bench.in_force.predict(
        [
            Query(
                stack=stack,
                maker=bench.whip.maker,
                inner=is_inner(bench.whip, slot),
                readings=bench.readings,
            )
            for stack, slot in asked
        ]
    )


def _weight(bench: SheetOf, slot: int) -> str:
    """What the whip should weigh with the layers up to ``slot``; nothing where it cannot be reckoned."""
    if slot == len(bench.whip.layers):
        return ""
    resolve = partial(calibrated_geometry, bench.in_force.calibration)
    try:
        whole = whole_mass(bench.whip, bench.cords, slot, resolve)
    except (StackNotKnownError, ValueError):
        return ""
    if not whole.thong.cord_mass_g:
        return ""
    told = weighing_of(bench.in_force.weighing).calibrations.weight.expect(reckoned_weight(whole))
    return f"Weight after layer {slot}, g (about {told.value:.0f}, {told.low_90:.0f}–{told.high_90:.0f})"
