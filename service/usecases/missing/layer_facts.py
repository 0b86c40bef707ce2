"""Facts about one layer that a maker could still look up: its strands, cord, end, places and fates."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from plaitlog.models.stack import PLAITED, layers_are_complete
from plaitlog.models.whip import (
    Cord,
    Fate,
    Layer,
    LayerCord,
    Place,
    Rest,
    Span,
    Step,
    StrandSchedule,
    Whip,
    exactly,
)
from plaitlog.service.usecases.missing.facts import (
    LIKELY,
    AllLayers,
    Fact,
    HandleLength,
    MadeBy,
    ThongLength,
    evenly,
    likely_point_mm,
    within,
)
from plaitlog.service.usecases.shown_units import ShownUnits

USUAL_STRANDS: Final = {"core": (4, 6, 8), "belly": (8, 12, 16), "overlay": (12, 16, 20)}
"""Strand counts tried where none is noted (common practice, no source)."""
THE_POINT: Final = "the point"
LEAST_AT_POINT: Final = 4
"""A plait of fewer strands is not made (common practice, no source)."""


def layer_name(whip: Whip, slot: int) -> str:
    """The layer in words: the overlay, the second belly."""
    role = whip.layers[slot - 1].role
    alike = [place for place, layer in enumerate(whip.layers, start=1) if layer.role == role]
    if len(alike) == 1:
        return f"the {role}"
    numbers = ("first", "second", "third", "fourth", "fifth")
    nth = alike.index(slot)
    return f"the {numbers[nth]} {role}" if nth < len(numbers) else f"the {role} in place {slot}"


@dataclass(frozen=True, slots=True)
class Strands:
    """How many strands lie in a layer of which nothing is noted."""

    slot: int
    name: str

    @property
    def key(self) -> str:
        return f"strands:{self.slot}"

    def words(self, shown: ShownUnits) -> str:
        return f"the strands of {self.name}"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        layer = whip.layers[self.slot - 1]
        each = max(len(layer.cords), 1)
        return [
            with_layer(
                whip,
                self.slot,
                replace(
                    layer,
                    schedule=StrandSchedule((Step(Place(0.0, 0.0), (exactly(count / each),) * each),)),
                ),
            )
            for count in USUAL_STRANDS.get(layer.role, (4, 6, 8))
        ]


@dataclass(frozen=True, slots=True)
class CordOf:
    """Which cord a layer is made of: any of the workshop, a few of them tried from thin to thick."""

    slot: int
    name: str

    @property
    def key(self) -> str:
        return f"cord:{self.slot}"

    def words(self, shown: ShownUnits) -> str:
        return f"the cord of {self.name}"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        layer = whip.layers[self.slot - 1]
        steps = layer.schedule.steps if layer.schedule is not None else ()
        each = len(steps[0].counts) if steps else 1
        by_size = sorted(cords.values(), key=lambda cord: (cord.diameter_mm or 0.0, cord.name))
        firsts = evenly(range(max(len(by_size) - each + 1, 0)), LIKELY)
        named = [tuple(LayerCord(cord.name) for cord in by_size[k : k + each]) for k in firsts]
        return [with_layer(whip, self.slot, replace(layer, cords=some)) for some in named] or [whip]


@dataclass(frozen=True, slots=True)
class CountAt:
    """How many strands of a layer run at a station past the last noted step; at the point that closes it."""

    slot: int
    name: str
    at_mm: float
    where: str | None = None

    @property
    def key(self) -> str:
        return f"count:{self.slot}@{'point' if self.where == THE_POINT else f'{self.at_mm:g}'}"

    def words(self, shown: ShownUnits) -> str:
        return f"{self.name}'s count at {self.where or shown.length(self.at_mm)}"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        layer = whip.layers[self.slot - 1]
        assert layer.schedule is not None
        last = layer.schedule.steps[-1]
        total = last.total.mid
        counts = evenly(range(min(LEAST_AT_POINT, int(total)), int(total) + 1, 2), LIKELY) or [int(total)]
        place = Place(min(noted_to_mm(last), self.at_mm), self.at_mm, "between")
        more = [Step(place, tuple(exactly(x.mid * n / total) for x in last.counts)) for n in counts]
        rest: Rest = "point" if self.at_mm == whip.point_mm else "not noted"
        return [with_layer(whip, self.slot, followed(layer, step, rest)) for step in more]


@dataclass(frozen=True, slots=True)
class LayerEnd:
    """Where a layer ends whose schedule is not noted to its end: evenly likely up to the point."""

    slot: int
    name: str

    @property
    def key(self) -> str:
        return f"end:{self.slot}"

    def words(self, shown: ShownUnits) -> str:
        return f"where {self.name} ends"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        layer = whip.layers[self.slot - 1]
        assert layer.schedule is not None
        last = layer.schedule.steps[-1]
        low = noted_to_mm(last)
        high = max(low + 1.0, likely_point_mm(whip))
        none = tuple(exactly(0) for _ in last.counts)
        return [
            with_layer(whip, self.slot, followed(layer, Step(Place(at, at), none)))
            for at in within(low, high)
        ]


@dataclass(frozen=True, slots=True)
class DropPlace:
    """Where a step lies whose place is noted as about, between or not at all: evenly likely in its span."""

    slot: int
    number: int
    name: str
    change: str

    @property
    def key(self) -> str:
        return f"place:{self.slot}.{self.number}"

    def words(self, shown: ShownUnits) -> str:
        return f"where {self.name} {self.change}"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        layer = whip.layers[self.slot - 1]
        assert layer.schedule is not None
        steps = layer.schedule.steps
        place = steps[self.number].place
        return [
            with_layer(
                whip,
                self.slot,
                replace(layer, schedule=replace(layer.schedule, steps=settled(steps, self.number, at))),
            )
            for at in within(place.low_mm, max(min(place.high_mm, likely_point_mm(whip)), place.low_mm))
        ]


@dataclass(frozen=True, slots=True)
class FateOf:
    """What became of a layer's dropped strands; not noted they count as cut."""

    slot: int
    name: str

    @property
    def key(self) -> str:
        return f"fate:{self.slot}"

    def words(self, shown: ShownUnits) -> str:
        return f"what became of {self.name}'s dropped strands"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        layer = whip.layers[self.slot - 1]
        fates = (Fate("cut"), Fate("tuck"), Fate("run"))
        return [with_layer(whip, self.slot, replace(layer, fate=fate)) for fate in fates]


def record_facts(whip: Whip, makers: Sequence[str] = ()) -> list[Fact]:
    """Every fact that the record of a whip leaves open and that changes what its stacks are."""
    found: list[Fact] = []
    if whip.layers and not layers_are_complete(whip):
        found.append(AllLayers())
    if whip.datum == "butt" and whip.handle_length_mm is None:
        found.append(HandleLength())
    if whip.thong_length_mm is None:
        found.append(ThongLength())
    for slot, layer in enumerate(whip.layers, start=1):
        found.extend(_layer_facts(whip, slot, layer))
    if whip.maker is None and makers:
        found.append(MadeBy(tuple(makers)))
    return found


def _layer_facts(whip: Whip, slot: int, layer: Layer) -> list[Fact]:
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        return []
    name = layer_name(whip, slot)
    if layer.schedule is None or not layer.schedule.steps:
        return [Strands(slot, name)]
    found: list[Fact] = [] if layer.cords else [CordOf(slot, name)]
    if is_open(layer):
        found.append(open_fact(whip, slot, whip.point_mm))
    steps = layer.schedule.steps
    for number, step in enumerate(steps):
        if step.place.high_mm > step.place.low_mm:
            found.append(DropPlace(slot, number, name, _change(steps, number)))
    falls = any(after.total.low < before.total.low for before, after in pairwise(steps))
    if falls and layer.fate is None and all(step.fate is None for step in steps):
        found.append(FateOf(slot, name))
    return found


def open_fact(whip: Whip, slot: int, at_mm: float | None, where: str | None = None) -> Fact:
    """What closes a schedule that is not noted to its end: an inner layer ends, the outermost runs on."""
    name = layer_name(whip, slot)
    if any(layer.role in PLAITED for layer in whip.layers[slot:]):
        return LayerEnd(slot, name)
    if at_mm is None or at_mm == whip.point_mm:
        return CountAt(slot, name, likely_point_mm(whip), THE_POINT)
    return CountAt(slot, name, at_mm, where)


def _change(steps: Sequence[Step], number: int) -> str:
    now = steps[number].total
    if number == 0:
        return "begins"
    if now.high == 0:
        return "ends"
    was = steps[number - 1].total
    goes = "falls" if now.mid < was.mid else "rises" if now.mid > was.mid else "changes"
    return f"{goes} from {_count(was)} to {_count(now)} strands"


def _count(count: Span) -> str:
    return f"{count.low:g}" if count.exact else f"{count.low:g} or more"


def is_open(layer: Layer) -> bool:
    """Whether a layer's strands are noted, but not to its end."""
    schedule = layer.schedule
    return (
        schedule is not None
        and bool(schedule.steps)
        and schedule.rest == "not noted"
        and schedule.steps[-1].total.high > 0
    )


def noted_to_mm(last: Step) -> float:
    """The station up to which a schedule that is not noted to its end is known."""
    return last.place.low_mm if last.place.kind == "not noted" else last.place.high_mm


def followed(layer: Layer, step: Step, rest: Rest = "not noted") -> Layer:
    """The layer with one step more, after which it runs on to the point, or what follows is not noted."""
    assert layer.schedule is not None
    return replace(layer, schedule=StrandSchedule((*layer.schedule.steps, step), rest))


def with_layer(whip: Whip, slot: int, layer: Layer) -> Whip:
    """The whip with one listed layer, counted from 1, put in place of what was noted."""
    return replace(whip, layers=(*whip.layers[: slot - 1], layer, *whip.layers[slot:]))


def settled(steps: Sequence[Step], number: int, at_mm: float) -> tuple[Step, ...]:
    """The steps with one of them at an exact place; places not noted are bounded by it, as its neighbours."""
    found: list[Step] = []
    for k, step in enumerate(steps):
        place = step.place
        if k == number:
            place = Place(at_mm, at_mm)
        elif place.kind == "not noted" and k < number:
            place = Place(min(place.low_mm, at_mm), min(place.high_mm, at_mm), place.kind)
        elif place.kind == "not noted":
            place = Place(max(place.low_mm, at_mm), max(place.high_mm, at_mm), place.kind)
        found.append(replace(step, place=place))
    return tuple(found)
