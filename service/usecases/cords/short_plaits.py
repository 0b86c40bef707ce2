"""Test plaits that might be made of a cord: strands over a rod, their readings, the minutes they take."""

import json
import math
from dataclasses import dataclass
from typing import Any, Final

from plaitlog.models.calibration.gain import Trial
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.prediction import Query
from plaitlog.models.calibration.remarks import HIGH_COVER, LOW_COVER
from plaitlog.models.errors import Finding, InputError
from plaitlog.models.geometry import geometric_diameter, strand_path
from plaitlog.models.planning.cut_list import ROUNDED_TO_MM, TAIL_MM
from plaitlog.models.plausibility import TEST_PLAIT
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, exactly
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.predicting_stacks import usual_pattern

STRANDS: Final = (6, 8, 10, 12, 16, 20, 24)
RODS_MM: Final = (4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 20.0)
LENGTHS_MM: Final = (100.0, 150.0, 200.0)
END_MM: Final = 30.0
"""Left out at either end, where strands are tied down (common practice, no source)."""
BETWEEN_MM: Final = 40.0
"""From one reading to the next: about a turn of the plait, so that each shows another part of it."""
SETTING_UP_MIN: Final = 10.0
MIN_PER_STRAND_AND_100_MM: Final = 0.8
"""Minutes to cut and tie on the strands, and to plait (common practice, no source: 16 strands take a
practised hand about 25 minutes for 200 mm)."""
RATE: Final = "10 minutes to set up and 0.8 minutes per strand and 100 mm: common practice, no source"


@dataclass(frozen=True, slots=True)
class ShortPlait:
    """One test plait: so many strands of a cord for ``length_mm`` over a rod of ``foundation_mm``."""

    cord: Cord
    strands: int
    foundation_mm: float
    length_mm: float

    @property
    def read_at_mm(self) -> tuple[float, ...]:
        """Stations of its readings, mm from its beginning."""
        count = int((self.length_mm - 2 * END_MM) // BETWEEN_MM) + 1
        return tuple(END_MM + BETWEEN_MM * k for k in range(count))

    @property
    def minutes(self) -> float:
        return SETTING_UP_MIN + MIN_PER_STRAND_AND_100_MM * self.strands * self.length_mm / 100.0

    @property
    def stack(self) -> Stack:
        layer = StackLayer(
            role="overlay",
            groups=(StrandGroup(self.cord, exactly(self.strands)),),
            pattern=usual_pattern(self.strands),
            slot=1,
        )
        return Stack((layer,), self.foundation_mm)

    @property
    def cut_mm(self) -> float:
        """Length to cut of each strand, mm: its path, and a tail to hold; rounded up."""
        angle = geometric_diameter(self.stack).layers[0].cos_angle
        path = self.length_mm * float(strand_path(1.0 if angle is None else angle))
        return ROUNDED_TO_MM * math.ceil((path + TAIL_MM) / ROUNDED_TO_MM)

    @property
    def key(self) -> str:
        """Strands, rod and length in one text, which ``plait_of`` reads."""
        return f"{self.strands} {self.foundation_mm:g} {self.length_mm:g}"

    @property
    def label(self) -> str:
        """What it may be called in the workshop."""
        over = f"{self.strands} over {self.foundation_mm:g} mm for {self.length_mm:g} mm"
        return f"{TEST_PLAIT} of {self.cord.name}, {over}"

    def trial(self, maker: str | None) -> Trial:
        """Its readings, by a maker; what they will say is not known."""
        return Trial(
            tuple(
                Observation(
                    stack=self.stack,
                    diameter_mm=self.foundation_mm,
                    whip=self.label,
                    maker=maker,
                    at_mm=at_mm,
                )
                for at_mm in self.read_at_mm
            )
        )

    def record(self, maker: str | None) -> dict[str, Any]:
        """Its record, whose diameters are to be filled in (null)."""
        strands = {"role": "overlay", "cord": self.cord.name, "strands": [[0, self.strands]]}
        return {
            "kind": "whip",
            "label": self.label,
            **({} if maker is None else {"maker": maker}),
            "type": TEST_PLAIT,
            "status": "finished",
            "datum": "handle end",
            "thong_length_mm": self.length_mm,
            "foundation": {"diameter_mm": self.foundation_mm, "to_mm": self.length_mm},
            "layers": [{**strands, "pattern": usual_pattern(self.strands)}],
            "layers_complete": True,
            "readings": [{"at_mm": at_mm, "diameter_mm": None} for at_mm in self.read_at_mm],
        }

    def record_line(self, maker: str | None) -> str:
        return json.dumps(self.record(maker), ensure_ascii=False)


def plait_of(cord: Cord, key: str) -> ShortPlait:
    """The test plait of a ``key``; InputError where it is none of those that are ever advised."""
    for strands in STRANDS:
        for rod in RODS_MM:
            for length in LENGTHS_MM:
                found = ShortPlait(cord, strands, rod, length)
                if found.key == key:
                    return found
    raise InputError(Finding("no-plait", f"{key!r} is no test plait", "choose one on the page of advice"))


def short_plaits(in_force: InForce, cord: Cord) -> list[ShortPlait]:
    """Every test plait that lies well: neither gaps nor bunching strands."""
    tried = [ShortPlait(cord, strands, rod, LENGTHS_MM[0]) for strands in STRANDS for rod in RODS_MM]
    told = in_force.predict([Query(stack=plait.stack) for plait in tried])
    return [
        ShortPlait(cord, plait.strands, plait.foundation_mm, length)
        for plait, one in zip(tried, told, strict=True)
        if one.cover is not None and LOW_COVER <= one.cover <= HIGH_COVER
        for length in LENGTHS_MM
    ]
