"""How a simulated workshop works and measures; everything that can be switched on or off."""

from dataclasses import dataclass

PULL_SD = 0.03
IRREGULARITY_SD = 0.012
CALIPER_MM = 0.05
STATIONS = 13
CONDITIONS = {"fresh": 0.015, "rolled": 0.0, "waxed": 0.006, "broken in": -0.012}
"""Log of the diameter in each condition against the rolled whip (invented)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """Shares are of whips (``filler``, ``foundation``, ``two_cords``, ``conditions``, ``count_ranges``) or of
    readings (``wrong``); ``*_sd`` are standard deviations of the log of the diameter.

    ``inner_every``: the last belly is measured too before the overlay is begun, at every so many of the
    stations where it runs (0: not at all). ``ruler``: flat width and pressed thickness are measured.
    """

    makers: int = 1
    maker_sd: float = 0.03
    filler: float = 0.0
    foundation: float = 0.0
    two_cords: float = 0.25
    conditions: float = 0.0
    drift_sd: float = 0.0
    layer_pull_sd: float = 0.0
    inner_every: int = 0
    ruler: bool = False
    count_ranges: float = 0.0
    wrong: float = 0.0


PLAIN = Habits()
BUSY = Habits(
    makers=2, filler=0.4, foundation=0.3, conditions=0.4, drift_sd=0.01, layer_pull_sd=0.01, inner_every=2
)
"""Two makers, filler, foundations, conditions, drift along the thong, pull by layer, inner readings."""
