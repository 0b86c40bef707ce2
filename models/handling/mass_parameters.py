"""How the mass of a whip lies along it: half-mass and balance positions, inertia about the hand, wave speed.

From the mass of each section as the strands give it, so that all of it is reckoned. Units: mm, g.
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.mass import MassSection
from plaitlog.models.whole_mass import WholeMass

HAND_MM: Final = 50.0
"""The hand is taken to hold the whip with its middle this far from the butt (own measure: half a hand's
breadth)."""
END_SHARE: Final = 0.1
"""Share of the thong at each end over which its mass per length is averaged (own choice)."""
HALVES_SD: Final = 0.05
"""Sd of the log of what one half of a thong weighs beside the other. Physical reasoning: the two halves hold
the cords in other shares, and a cord's reckoned weight is out by some per cent."""


def mass_parameters(whole: WholeMass, start_mm: float, butt_mm: float | None) -> dict[str, Estimate]:
    """Parameters by name; the thong runs from ``start_mm`` to the last section, the whip from ``butt_mm``
    (None: not known, then there is nothing about the hand).

    ``whole`` is without fall and cracker, as they are exchanged. Empty where nothing weighs.
    """
    thong = [(max(s.from_mm, start_mm), s.to_mm, s.mass_g) for s in _parts(whole.thong.sections, start_mm)]
    end = whole.thong.sections[-1].to_mm
    length = end - start_mm
    total = math.fsum(mass for _, _, mass in thong)
    if not total > 0:
        return {}
    half = (_place_of_half(thong, total) - start_mm) / length
    thick = _mass_between(thong, start_mm, start_mm + END_SHARE * length)
    point = _mass_between(thong, end - END_SHARE * length, end)
    at_half, reach = start_mm + half * length, END_SHARE * length
    density = _mass_between(thong, at_half - reach, at_half + reach) / total / (2 * END_SHARE)
    found = {"half_mass_fraction": Estimate.of(half, HALVES_SD / 4 / max(density, 0.2), "reckoned")}
    if point > 0:
        ratio = thick / point
        found["mass_ratio"] = Estimate.of(ratio, ratio * math.sqrt(2) * HALVES_SD, "reckoned")
        wave = math.sqrt(ratio)
        found["wave_speed_factor"] = Estimate.of(wave, wave * HALVES_SD / math.sqrt(2), "reckoned")
    if butt_mm is None:
        return found
    along = whole.along
    inertia = along.inertia_g_mm2(butt_mm + HAND_MM) / along.mass_g
    spread = math.hypot(HALVES_SD, whole.unknown_sd)
    found["inertia_per_mass_mm2"] = Estimate.of(inertia, inertia * spread, "reckoned")
    radius = math.sqrt(inertia)
    found["gyration_radius_mm"] = Estimate.of(radius, radius * spread / 2, "reckoned")
    return found


def _parts(sections: Sequence[MassSection], start_mm: float) -> list[MassSection]:
    """Sections of the thong alone: one that begins before it counts with the part on it."""
    found = []
    for one in sections:
        if one.to_mm <= start_mm:
            continue
        share = (one.to_mm - max(one.from_mm, start_mm)) / (one.to_mm - one.from_mm)
        found.append(MassSection(max(one.from_mm, start_mm), one.to_mm, one.mass_g * share, {}, {}))
    return found


def _place_of_half(thong: list[tuple[float, float, float]], total: float) -> float:
    ends = np.cumsum([mass for _, _, mass in thong])
    k = int(np.searchsorted(ends, total / 2))
    low, high, mass = thong[k]
    return low + (high - low) * (total / 2 - (float(ends[k]) - mass)) / mass


def _mass_between(thong: list[tuple[float, float, float]], low: float, high: float) -> float:
    return math.fsum(
        mass * max(min(to, high) - max(since, low), 0.0) / (to - since) for since, to, mass in thong
    )
