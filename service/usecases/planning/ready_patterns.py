"""Ready patterns for what a plan leaves open. All of it is common practice of the trade, no source."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from plaitlog.models.taper import TaperWord
from plaitlog.models.units import MM_PER
from plaitlog.models.whip import Role

INCH_MM: Final = float(MM_PER["in"])


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyPattern:
    """Lengths and diameters in mm; what is None the pattern says nothing of.

    ends_mm, ends_share : where layers end, from the datum, in mm or as a share of the thong, by role and its
    turn among the layers of that role, from 1.
    """

    type: str
    taper: TaperWord
    thong_length_mm: float | None = None
    handle_length_mm: float | None = None
    handle_diameter_mm: float | None = None
    thick_end_mm: float | None = None
    point_mm: float | None = None
    parallel_thick_mm: float | None = None
    parallel_point_mm: float | None = None
    ends_mm: Mapping[tuple[Role, int], float] = field(default_factory=dict)
    ends_share: Mapping[tuple[Role, int], float] = field(default_factory=dict)

    def end_mm(self, role: Role, turn: int, thong_mm: float) -> float | None:
        """Where a layer ends by this pattern, None where it leaves it open."""
        if (role, turn) in self.ends_mm:
            return self.ends_mm[role, turn]
        share = self.ends_share.get((role, turn))
        return None if share is None else share * thong_mm


def _stock_whip(point_mm: float) -> ReadyPattern:
    """14 mm held for 12 in, then even, then parallel for 6 to 8 in."""
    return ReadyPattern(
        type="stock whip",
        taper="even",
        thick_end_mm=14.0,
        point_mm=point_mm,
        parallel_thick_mm=12 * INCH_MM,
        parallel_point_mm=7 * INCH_MM,
    )


READY_PATTERNS: Final[Mapping[str, ReadyPattern]] = {
    "stock whip": _stock_whip(5.5),
    "fine stock whip": _stock_whip(5.0),
    "heavy stock whip": _stock_whip(6.0),
    "light bullwhip": ReadyPattern(
        type="bullwhip", taper="even", handle_length_mm=12 * INCH_MM, handle_diameter_mm=19.0
    ),
    "heavy bullwhip": ReadyPattern(type="bullwhip", taper="early", handle_diameter_mm=22.0),
    "early bellies": ReadyPattern(
        type="bullwhip", taper="early", ends_share={("belly", 1): 0.25, ("belly", 2): 0.5}
    ),
    "6 ft bullwhip": ReadyPattern(
        type="bullwhip",
        taper="early",
        thong_length_mm=72 * INCH_MM,
        ends_mm={("core", 1): 36 * INCH_MM, ("belly", 1): 45 * INCH_MM},
    ),
    "5 1/2 ft bullwhip": ReadyPattern(
        type="bullwhip",
        taper="even",
        thong_length_mm=66 * INCH_MM,
        handle_length_mm=8 * INCH_MM,
        ends_mm={("core", 1): 33 * INCH_MM},
    ),
    "10 ft bullwhip": ReadyPattern(
        type="bullwhip", taper="even", thong_length_mm=120 * INCH_MM, ends_mm={("core", 1): 63 * INCH_MM}
    ),
}
