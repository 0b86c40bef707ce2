"""Hours of work that a whip takes: reckoned from moves, strands and drops, corrected by recorded hours.

Only the proportions of the seconds below matter once hours are recorded: log(hours / reckoned) has a level, a
level of its own for what is done beside plaiting, and the pace of each maker, pooled towards the common one.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from plaitlog.models.calibration.paces import Paces, Timed, fit_paces
from plaitlog.models.calibration.ratios import Expectation
from plaitlog.models.geometry import CONSTANTS, flat_width_mm
from plaitlog.models.plausibility import TEST_PLAIT
from plaitlog.models.stack import PLAITED, layers_are_complete
from plaitlog.models.whip import Cord, Foundation, Layer, Whip
from plaitlog.models.whole_mass import handle_before_mm

MOVE_S: Final = 10.0
PASS_S: Final = 3.0
"""Seconds to take up a strand and pull it tight, and for each strand that it passes (physical reasoning: a
strand of some metres is drawn through each time)."""
STRAND_S: Final = 90.0
"""To measure, cut, gut and lay in one strand (physical reasoning)."""
DROP_S: Final = 120.0
"""To cut or tuck one strand (physical reasoning)."""
LAYER_S: Final = 900.0
"""To tie on, bind and roll one layer (physical reasoning)."""
HANDLE_S: Final = 2700.0
"""To prepare and join a handle (physical reasoning)."""
WHIP_S: Final = 5400.0
"""Heel knot, hitch, finish (physical reasoning)."""


@dataclass(frozen=True, slots=True)
class ExpectedHours:
    """Hours of work with their 90 % interval. whips : recorded whips they were learnt from; of_maker : those
    by the same hand (where no maker is named: by hands that are not named either)."""

    hours: Expectation
    whips: int
    of_maker: int


@dataclass(frozen=True, slots=True)
class Pace:
    """What recorded hours taught; of_maker : from how many whips of each maker, "" where none is named."""

    paces: Paces
    of_maker: Mapping[str, int]

    def expected(self, whip: Whip, cords: Mapping[str, Cord]) -> ExpectedHours | None:
        """Of a whip, recorded or only planned; None where its layers or its length are not known."""
        work = work_of(whip, cords)
        if work is None:
            return None
        maker = whip.maker or ""
        found = self.paces.expect(work.hours, work.beside, maker)
        return ExpectedHours(found, sum(self.of_maker.values()), self.of_maker.get(maker, 0))


@dataclass(frozen=True, slots=True)
class Work:
    """Work as it is reckoned, in hours; beside : the share of it that is no plaiting."""

    hours: float
    beside: float


def learn_pace(whips: Sequence[Whip], cords: Mapping[str, Cord]) -> Pace:
    """From whips on which hours are noted and whose layers are known; others, and test plaits, are not."""
    found = []
    for whip in whips:
        work = work_of(whip, cords) if whip.hours and whip.type != TEST_PLAIT else None
        if whip.hours and work is not None:
            found.append(Timed(whip.maker or "", math.log(whip.hours / work.hours), work.beside))
    return Pace(fit_paces(found), Counter(one.maker for one in found))


def work_of(whip: Whip, cords: Mapping[str, Cord]) -> Work | None:
    """Work of a whip from the moves of its plaits, its strands, drops and layers; None where it is not known.

    Of n strands of a plait each meets the n/2 of the other direction twice in a turn, and one move takes a
    strand past n/2 others: there are n moves to a turn length. Strands of width w that just close the
    surface at the plait angle make that 2 sin(angle) / w moves to a length of thong, however many they are.
    """
    length = whip.point_mm
    if length is None or length <= 0 or not layers_are_complete(whip):
        return None
    handle = whip.handle_length_mm or 0.0
    rod = isinstance(whip.foundation, Foundation)
    before = (handle_before_mm(whip) or 0.0) if rod else 0.0  # over a rod the plaits run on to the butt
    plaiting, beside = 0.0, WHIP_S + (HANDLE_S if handle or rod else 0.0)
    for layer in whip.layers:
        told = _told(layer)
        if not told or any(one.cord not in cords for one in layer.cords):
            return None
        beside += _beside_s(layer)
        if layer.role in PLAITED:
            plaiting += _plaiting_s(layer, cords, length, before)
    total = plaiting + beside
    return Work(total / 3600, beside / total)


def _told(layer: Layer) -> bool:
    """Whether it is known to its end."""
    if layer.diameter_mm is not None or layer.thickness_mm is not None:
        return True
    schedule = layer.schedule
    if schedule is None or not schedule.steps or not layer.cords:
        return False
    return schedule.rest == "point" or schedule.steps[-1].total.high == 0


def _plaiting_s(layer: Layer, cords: Mapping[str, Cord], end_mm: float, before_mm: float) -> float:
    assert layer.schedule is not None
    steps = layer.schedule.steps
    places = [*(step.place.mid_mm for step in steps), end_mm]
    if places[0] <= 0:
        places[0] = -before_mm
    sine = math.sin(math.radians(CONSTANTS.angle_deg))
    total = 0.0
    for step, (start, end) in zip(steps, pairwise(places), strict=True):
        strands = step.total.mid
        if strands <= 0:
            continue
        widths = [flat_width_mm(cords[one.cord]) for one in layer.cords]
        mean_width = sum(w * count.mid for w, count in zip(widths, step.counts, strict=True)) / strands
        moves = 2 * sine / mean_width * max(end - start, 0.0)
        total += moves * (MOVE_S + PASS_S * strands / 2)
    return total


def _beside_s(layer: Layer) -> float:
    """What a layer takes beside its plaiting."""
    counts = [] if layer.schedule is None else [step.total.mid for step in layer.schedule.steps]
    dropped = math.fsum(max(before - after, 0.0) for before, after in pairwise(counts))
    return LAYER_S + STRAND_S * max(counts, default=0.0) + DROP_S * dropped
