"""What the fit says of a cord against what its measures let expect, and against the cords most like it."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.calibration.gain import cord_parts
from plaitlog.models.calibration.observations import Z90
from plaitlog.models.calibration.prediction import Prediction
from plaitlog.models.geometry import flat_width_mm, strand_area_mm2
from plaitlog.models.whip import Cord
from plaitlog.service.usecases.cords.worth import typical
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits

ALIKE: Final = 3
"""So many cords are shown beside one."""
SEEN_MM: Final = 0.05
"""Below this calipers that show a tenth of a millimetre see nothing."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Another cord in the same stack."""

    cord: Cord
    prediction: Prediction
    readings: int


@dataclass(frozen=True, slots=True)
class Learnt:
    """One stack as the fit has it, and as a cord of the same measures that was never read would come out.

    sure : whether the difference is more than what is not known yet of the cord (90 %).
    """

    as_learnt: Prediction
    as_measured: Prediction
    sure: bool

    @property
    def shift_mm(self) -> float:
        return self.as_learnt.diameter_mm - self.as_measured.diameter_mm

    @property
    def share(self) -> float:
        return self.shift_mm / self.as_measured.diameter_mm

    def words(self, shown: ShownUnits) -> str:
        """One sentence, the trade's words."""
        learnt, measured = (shown.diameter(one.diameter_mm) for one in (self.as_learnt, self.as_measured))
        if abs(self.shift_mm) < SEEN_MM:
            return f"It comes out as its measures let expect: {learnt}."
        way = "thicker" if self.shift_mm > 0 else "thinner"
        told = f"{learnt} where its measures alone would give {measured}, {100 * abs(self.share):.0f} %"
        if self.sure:
            return f"It comes out {way} than its measures let expect: {told}."
        return f"It seems to come out a little {way} than its measures let expect, which is not sure: {told}."


def learnt_of(in_force: InForce, cord: Cord, overlay: int, maker: str | None) -> Learnt | None:
    """What readings taught of a cord beyond its measures, in its typical plait; None where none did."""
    if not in_force.calibration.cords.get(cord.name):
        return None
    query = typical(cord, overlay, maker)
    learnt, measured = in_force.predict([query, typical(unread(in_force, cord), overlay, maker)])
    _, left = cord_parts(in_force.calibration, [query], cord.name)
    shift = math.log(learnt.diameter_mm / measured.diameter_mm)
    return Learnt(learnt, measured, abs(shift) > Z90 * math.sqrt(left[0]))


def unread(in_force: InForce, cord: Cord) -> Cord:
    """A cord of the same measures under a name that no reading ever named."""
    name = f"{cord.name} (never read)"
    while name in in_force.calibration.cords:
        name += "'"
    return replace(cord, name=name)


def cords_like(cord: Cord, others: Iterable[Cord], at_most: int = ALIKE) -> list[Cord]:
    """The cords nearest in flat width and fibre area, those of the same construction first."""

    def apart(other: Cord) -> tuple[bool, float]:
        wide = math.log(flat_width_mm(other) / flat_width_mm(cord))
        full = math.log(strand_area_mm2(other) / strand_area_mm2(cord))
        return other.construction != cord.construction, math.hypot(wide, full)

    return sorted((other for other in others if other.name != cord.name), key=apart)[:at_most]


def beside(in_force: InForce, cords: Iterable[Cord], overlay: int, maker: str | None) -> list[Beside]:
    """Cords in one and the same stack: six strands in the core under ``overlay`` of them."""
    listed = list(cords)
    told = in_force.predict([typical(cord, overlay, maker) for cord in listed])
    return [
        Beside(cord, one, in_force.calibration.cords.get(cord.name, 0))
        for cord, one in zip(listed, told, strict=True)
    ]
