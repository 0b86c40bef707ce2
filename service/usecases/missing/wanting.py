"""Which facts a reading wants before its stack is known."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import Cord, Layer, LayerCord, Place, Reading, Step, StrandSchedule, Whip, exactly
from plaitlog.service.usecases.missing.facts import AllLayers, Fact, HandleLength, ThongLength, evenly
from plaitlog.service.usecases.missing.layer_facts import CordOf, Strands, layer_name, open_fact
from plaitlog.service.usecases.observing import observation
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.shown_units import ShownUnits

MOST_FACTS: Final = 12
"""A reading that wants more facts than this is past help."""


@dataclass(frozen=True, slots=True)
class Layers:
    """Which layers there are, where none is listed; a single plait stands for them."""

    key: str = "layers"

    def words(self, shown: ShownUnits) -> str:
        return "its layers, with their strands and cords"

    def likely(self, whip: Whip, cords: Mapping[str, Cord]) -> list[Whip]:
        by_size = sorted(cords.values(), key=lambda cord: (cord.diameter_mm or 0.0, cord.name))
        plait = StrandSchedule((Step(Place(0.0, 0.0), (exactly(16),)),))
        return [
            replace(
                whip,
                layers=(Layer(role="overlay", cords=(LayerCord(cord.name),), schedule=plait),),
                layers_complete=True,
            )
            for cord in evenly(by_size, 5)
        ] or [whip]


def wants(whip: Whip, reading: Reading, cords: Mapping[str, Cord]) -> tuple[Fact, ...] | None:
    """Facts that together put a reading on a known stack, in the order in which they are missed.

    Empty where its stack is known already; None where no fact would help (it lies past the point, or on a
    layer that does not run there).
    """
    found: dict[str, Fact] = {}
    for _ in range(MOST_FACTS):
        now = placed(replace(whip, readings=(reading,))).readings[0]
        try:
            observation(whip, now, cords)
        except StackNotKnownError as error:
            fact = _mends(whip, now, error.finding.code, cords)
        else:
            return tuple(found.values())
        if fact is None or fact.key in found:
            return None
        found[fact.key] = fact
        likely = fact.likely(whip, cords)
        whip = likely[len(likely) // 2]
    return None


def _mends(whip: Whip, reading: Reading, code: str, cords: Mapping[str, Cord]) -> Fact | None:
    if code == "no-station":
        # A named place is all there is: the lengths that it needs are not noted.
        missing_handle = whip.datum == "butt" and whip.handle_length_mm is None
        return HandleLength() if missing_handle else ThongLength() if whip.thong_length_mm is None else None
    if not whip.layers:
        return Layers()
    if code == "layers-open":
        return AllLayers()
    if reading.at_mm is None:
        return None
    slot = _slot_of(whip, reading.at_mm, reading.after_layer, code, cords)
    if slot is None:
        return None
    if code == "schedule-unknown":
        return Strands(slot, layer_name(whip, slot))
    if code == "cord-not-noted":
        return CordOf(slot, layer_name(whip, slot))
    if code == "schedule-open":
        return open_fact(whip, slot, reading.at_mm, "the middle" if reading.place == "mid" else None)
    return None


def _slot_of(
    whip: Whip, at_mm: float, after_layer: int | None, code: str, cords: Mapping[str, Cord]
) -> int | None:
    """The innermost layer that by itself is not known at a station for this reason."""
    for slot, layer in enumerate(whip.layers[:after_layer], start=1):
        try:
            stack_at(replace(whip, layers=(layer,), layers_complete=True), at_mm, cords)
        except StackNotKnownError as error:
            if error.finding.code == code:
                return slot
    return None
