"""The two makers, how their hands differ, and how they write."""

import math
from dataclasses import dataclass
from typing import Final

MAKER_PULL_GAP: Final = 0.04
"""How much thinner (log) Tamsin's plaits come out than Orrin's."""
WHIP_PULL_SD: Final = 0.03
"""How much the pull of one hand varies (log diameter) from whip to whip."""
LOCAL_SD: Final = 0.012
"""Local irregularity of a plait (log diameter) from station to station."""
CALIPER_SD_MM: Final = 0.05


@dataclass(frozen=True, slots=True)
class Maker:
    """``pull`` in log diameter; places fall on multiples of ``grid_mm``; ``lenient`` in rating points."""

    name: str
    pull: float
    inches: bool
    lenient: float

    @property
    def grid_mm(self) -> float:
        return 12.7 if self.inches else 5.0


ORRIN: Final = Maker("Orrin", MAKER_PULL_GAP / 2, inches=False, lenient=0.0)
TAMSIN: Final = Maker("Tamsin", -MAKER_PULL_GAP / 2, inches=True, lenient=0.3)
GUEST: Final = Maker("Wenna", 0.0, inches=True, lenient=-0.4)
"""Throws and rates what the two make; plaits nothing."""


def noise_floor(diameter_mm: float) -> float:
    """Spread (log) of one reading about what this maker's plaits come to at that stack."""
    return math.sqrt(WHIP_PULL_SD**2 + LOCAL_SD**2 + (CALIPER_SD_MM / diameter_mm) ** 2)
