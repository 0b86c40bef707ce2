"""How thick a plait really comes out in the invented workshop: a picture of strands stacked at crossings.

This is the truth behind the demo, kept apart on purpose from the formulas the project predicts with.
The picture: a bundle of parallel strands grows ring by ring around its first strand. Around a body lie two
tiers of flattened strands, one each way; calipers rest on crossings, where an outer strand rides on an inner
one and sinks into it a little, the deeper the longer it floats. A strand takes the width that its
neighbours leave it: crowded it stands up and thickens, with room to spare it spreads. Whatever is plaited
over is squeezed. All numbers here are invented; only their order of magnitude is a plait's.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.seed_demo.cords import CordNature

EASY_ANGLE: Final = math.radians(42)
"""Angle to the axis at which a hand lays strands that just about close the surface."""
SQUEEZE: Final = 0.95
"""What one plaited layer leaves of the diameter of the soft body below it."""


@dataclass(frozen=True, slots=True)
class Strands:
    """Strands of one cord lying together in a tier."""

    nature: CordNature
    count: float


@dataclass(frozen=True, slots=True)
class Ply:
    """One thing in the cross-section: plaited or parallel strands, or a body or wrap without strands."""

    kind: str
    strands: tuple[Strands, ...] = ()
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    grams_per_m: float = 0.0
    floats: int = 2


@dataclass(frozen=True, slots=True)
class Section:
    """A cross-section: its diameter, the hard part inside that no pull changes, its mass, its outer angle."""

    diameter_mm: float
    hard_mm: float = 0.0
    grams_per_m: float = 0.0
    angle: float = 0.0
    middle_mm: float = 0.0
    cover: float = 0.0

    def pulled(self, pull: float) -> float:
        """Diameter in mm when the hand pulled by ``pull`` (log; negative is harder) away from the usual."""
        return self.hard_mm + (self.diameter_mm - self.hard_mm) * math.exp(pull)


def section(plies: Sequence[Ply], foundation_mm: float = 0.0) -> Section:
    """The cross-section that these plies, given inside out, make over a foundation."""
    found = Section(foundation_mm, foundation_mm)
    for ply in plies:
        if ply.diameter_mm is not None:
            found = Section(ply.diameter_mm, ply.diameter_mm * 0.9, found.grams_per_m + ply.grams_per_m)
        elif ply.thickness_mm is not None:
            wrapped = found.diameter_mm + 1.8 * ply.thickness_mm
            found = Section(wrapped, found.hard_mm, found.grams_per_m + ply.grams_per_m)
        elif ply.kind in ("core", "filler"):
            found = _bundled(found, ply)
        else:
            found = _plaited(found, ply)
    return found


def _bundled(inside: Section, ply: Ply) -> Section:
    """Parallel strands: rings around the first strand, or around what is there already."""
    count = sum(each.count for each in ply.strands)
    size = sum(each.count * each.nature.bundled_mm for each in ply.strands) / count
    mass = sum(each.count * each.nature.linear_density_g_per_m for each in ply.strands) / 1.03
    if inside.diameter_mm < size / 2:
        diameter = size * math.sqrt((4 * count - 1) / 3)
        if count in (2, 3):  # two strands lie oval and are pulled round: between one strand and a ring
            diameter *= 0.93
    else:
        # A ring that is not full carries its share of a ring's growth; soft strands find the hollows.
        ring = math.pi * (inside.diameter_mm + size) / size
        grown = 4 * size * (inside.diameter_mm + size) * 0.9
        diameter = math.sqrt(inside.diameter_mm**2 + grown * count / ring)
    return Section(diameter, inside.hard_mm, inside.grams_per_m + mass)


def _plaited(inside: Section, ply: Ply) -> Section:
    count = sum(each.count for each in ply.strands)
    fibre, width, packing, density = (
        sum(each.count * getattr(each.nature, name) for each in ply.strands) / count
        for name in ("fibre_mm2", "width_mm", "packing", "linear_density_g_per_m")
    )
    body = inside.hard_mm + (inside.diameter_mm - inside.hard_mm) * SQUEEZE
    bundled = 2 * math.sqrt(fibre / (math.pi * (0.35 + 0.55 * packing)))
    # Without a body the inner tier closes on itself: half the strands, as a bundle.
    closed = bundled * math.sqrt((4 * count / 2 - 1) / 3)
    sunk = 0.86 - 0.035 * (ply.floats - 1)
    lying, angle = width, EASY_ANGLE
    for _ in range(12):
        thick = fibre / (packing * lying)
        # Where the inner tier leaves the body bare, the strands sink in and calipers find less of them.
        laid = count / 2 * lying / (math.cos(angle) * math.pi * (body + thick))
        first = ((body + 2 * thick * min(laid, 1.0) ** 0.6) ** 6 + closed**6) ** (1 / 6)
        middle = first
        crowd = count * width / (2 * math.pi * middle)
        angle = EASY_ANGLE + math.radians(min(max(26 * (0.80 - crowd), -14), 9))
        room = 2 * math.pi * middle * math.cos(angle) / count
        ease = room / width
        taken = width * max(ease / (1 + (ease / 1.12) ** 6) ** (1 / 6), 0.55)
        settled = abs(taken - lying) < 1e-3
        lying = 0.5 * (lying + taken)
        if settled:
            break
    thick = fibre / (packing * lying)
    diameter = first + 2 * thick * sunk
    path = 1.035 / (math.cos(angle) * 1.05)
    mass = inside.grams_per_m + count * density * path
    return Section(diameter, inside.hard_mm, mass, angle, first, crowd)


def turn_length(found: Section) -> float:
    """How far along the thong an outer strand needs to go once round, in mm."""
    return math.pi * found.middle_mm / math.tan(found.angle)


def strand_path(found: Section) -> float:
    """Metres of cord, cut, that go into a metre of outer plait."""
    return 1.035 / (math.cos(found.angle) * 1.05)
