"""The taper parameters: what each is called, its unit, what it says and how it is worked out."""

from dataclasses import dataclass
from typing import Final, Literal

Unit = Literal["diameter", "length", "share", "ratio", "mm per m", "log ratio", "mm2", "g per m"]
"""``diameter`` and ``length`` in mm; ``share`` from 0 to 1; ``log ratio`` a natural logarithm."""


@dataclass(frozen=True, slots=True)
class Definition:
    """One parameter. says : what it tells a maker. how : how it is worked out, with its source."""

    name: str
    title: str
    unit: Unit
    says: str
    how: str


_MODEL: Final = "from the segmented fit: level, tapering, level"
DEFINITIONS: Final = (
    Definition("thick_end_mm", "thick end", "diameter", "how stout the thong begins", _MODEL),
    Definition("point_mm", "point", "diameter", "how thin the thong ends", _MODEL),
    Definition(
        "taper_ratio", "taper ratio", "ratio", "how much of its diameter the thong loses",
        "thick end over point; below 1.25 a thong is called parallel (own convention)",
    ),
    Definition(
        "middle_share", "middle share", "share", "how much of the difference is left at half the length",
        "(middle - point) / (thick end - point), the middle at half the length of the thong; three readings "
        "give it",
    ),
    Definition(
        "fullness", "fullness", "share",
        "whether diameter is lost early (low), evenly (0.45 to about 0.6) or late (high)",
        "mean over the tapering part of (diameter - point) / (thick end - point), from six readings on; a "
        "straight line in diameter has 0.5, evenly spaced drops (2 + r) / (3 (1 + r)) with r the point over "
        "the thick end (the integral of a root)",
    ),
    Definition(
        "parallel_thick_mm", "parallel at the thick end", "length",
        "how far the thong is held level before it tapers", _MODEL,
    ),
    Definition(
        "parallel_point_mm", "parallel at the point", "length",
        "how far the thong is held level before the point", _MODEL,
    ),
    Definition(
        "taper_rate_thick", "taper rate, thick half", "mm per m", "how fast the first half thins",
        "diameter lost from the thick end to the middle over half the length",
    ),
    Definition(
        "taper_rate_point", "taper rate, point half", "mm per m", "how fast the second half thins",
        "diameter lost from the middle to the point over half the length",
    ),
    Definition(
        "half_mass_fraction", "half-mass position", "share",
        "how far along the thong half of its mass is passed",
        "the place with half of the thong's mass on either side, as a share of its length from the thick end",
    ),
    Definition(
        "balance_fraction", "balance", "share", "whether the whip is heavy in the hand or in the thong",
        "balance point from the butt, laid straight without fall and cracker unless they were on it, over "
        "the length of handle and thong",
    ),
    Definition(
        "inertia_per_mass_mm2", "inertia per mass", "mm2", "how hard the whip is to turn, for its weight",
        "moment of inertia of handle and thong, laid straight, about the middle of the hand, 50 mm from the "
        "butt, over their mass (a thin line of mass; own place of the hand)",
    ),
    Definition(
        "gyration_radius_mm", "radius of gyration", "length", "the same as a length",
        "square root of the inertia per mass",
    ),
    Definition(
        "mass_ratio", "mass ratio", "ratio",
        "how much more a length weighs at the thick end than at the point",
        "mass of the first tenth of the thong over that of the last",
    ),
    Definition(
        "wave_speed_factor", "wave-speed factor", "ratio",
        "how many times as fast a wave runs at the point as at the thick end",
        "square root of the mass ratio, as the speed of a transverse wave is the root of tension over mass "
        "per length (any textbook of mechanics), at one tension; at constant packing it is the taper ratio",
    ),
    Definition(
        "core_fraction", "core", "share", "how far the core runs",
        "end of the core over the length of the thong; 0 where there is none",
    ),
    Definition(
        "belly_fraction", "belly", "share", "how far the belly runs",
        "end of the last belly over the length of the thong; 0 where there is none",
    ),
    Definition(
        "drop_spacing_mm", "drop spacing", "length", "how far apart the overlay's strands are dropped",
        "first to last drop of the overlay over the number of gaps between them",
    ),
    Definition(
        "drop_spacing_trend", "drop-spacing trend", "log ratio",
        "whether drops spread towards the point (above 0) or close up (below 0)",
        "natural logarithm of the last gap over the first, by least squares over the drops that govern the "
        "taper: the core's, past its end the belly's, past that the overlay's; 0.7 is twice as far apart",
    ),
    Definition("handle_length_mm", "handle length", "length", "how long the handle is", "as noted"),
    Definition(
        "handle_diameter_mm", "handle diameter", "diameter", "how stout the handle is",
        "as noted, over everything",
    ),
    Definition(
        "handle_ratio", "handle over thick end", "ratio", "how the handle compares with the thong",
        "handle diameter over thick end",
    ),
    Definition(
        "weight_per_length_g_per_m", "weight per length", "g per m", "how heavy the whip is for its length",
        "weight of handle and thong, without fall and cracker, over the length of the thong",
    ),
)  # fmt: skip
BY_NAME: Final = {one.name: one for one in DEFINITIONS}
