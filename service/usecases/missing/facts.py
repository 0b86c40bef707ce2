"""Facts that a maker could still look up on a whip, each with what it may turn out to be.

A fact names what is missing in words and gives the record as it would then stand, once for each of a few
values that are equally likely as far as the record tells. What a fact is worth is worked out from these.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol, TypeVar

from plaitlog.models.whip import Cord, Step, Whip
from plaitlog.service.usecases.places import thick_end_mm
from plaitlog.service.usecases.shown_units import ShownUnits

LIKELY: Final = 5
"""Values tried of a fact that may be anything in a range."""
USUAL_THONG_MM: Final = 1500.0
"""Taken where no length is noted and nothing is noted further on (common practice, no source)."""
USUAL_HANDLE_MM: Final = 250.0


Item = TypeVar("Item")


class Fact(Protocol):
    """One thing to look up. ``key`` tells facts of one whip apart; ``likely`` is never empty."""

    @property
    def key(self) -> str: ...

    def words(self, shown: ShownUnits) -> str: ...

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]: ...


@dataclass(frozen=True, slots=True)
class AllLayers:
    """Whether the listed layers are all there are; taken to turn out so."""

    key: str = "layers_complete"

    def words(self, shown: ShownUnits) -> str:
        return "whether these are all the layers"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        return [replace(whip, layers_complete=True)]


@dataclass(frozen=True, slots=True)
class ThongLength:
    """The thong's length; it reaches at least a little past everything noted."""

    key: str = "thong_length"

    def words(self, shown: ShownUnits) -> str:
        return "the thong length"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        start = thick_end_mm(whip) or 0.0
        return [replace(whip, thong_length_mm=likely_point_mm(whip) - start)]


@dataclass(frozen=True, slots=True)
class HandleLength:
    """The handle's length, which places the thong where stations are counted from the butt."""

    key: str = "handle_length"

    def words(self, shown: ShownUnits) -> str:
        return "the handle length"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        return [replace(whip, handle_length_mm=USUAL_HANDLE_MM)]


@dataclass(frozen=True, slots=True)
class MadeBy:
    """Whose hand pulled the strands: one of the makers whose whips are in the fit."""

    makers: tuple[str, ...]
    key: str = "maker"

    def words(self, shown: ShownUnits) -> str:
        return "who made it"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        return [replace(whip, maker=maker) for maker in evenly(self.makers, LIKELY)] or [whip]


@dataclass(frozen=True, slots=True)
class Measurement:
    """Something to measure; the record's stacks stay as they are."""

    key: str
    name: str

    def words(self, shown: ShownUnits) -> str:
        return self.name

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        return [whip]


def likely_point_mm(whip: Whip) -> float:
    """The point's station; where it is not noted, some way past everything that is."""
    if whip.point_mm is not None:
        return whip.point_mm
    start = thick_end_mm(whip) or 0.0
    noted = [reading.at_mm for reading in whip.readings if reading.at_mm is not None]
    noted += [step.place.high_mm for step in all_steps(whip) if step.place.kind != "not noted"]
    return start + max(USUAL_THONG_MM, 1.2 * max(noted, default=0.0) - start)


def all_steps(whip: Whip) -> list[Step]:
    return [step for layer in whip.layers if layer.schedule is not None for step in layer.schedule.steps]


def within(low: float, high: float, number: int = LIKELY) -> list[float]:
    """So many values that part a range into equal shares, each in the middle of its own."""
    return [low + (high - low) * (2 * k + 1) / (2 * number) for k in range(number)]


def evenly(items: Sequence[Item], number: int) -> list[Item]:
    """At most so many of the items, first and last among them."""
    if len(items) <= number:
        return list(items)
    return [items[round(k * (len(items) - 1) / (number - 1))] for k in range(number)]
