"""The twelve cords of the workshop: what the makers wrote down, and what the cords are really like.

A cord's catalogue entry holds what calipers, scale and ruler gave. Its *nature* holds what nobody can
measure: how wide a strand truly lies in a plait and how tightly its fibres pack under the pull.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from plaitlog.seed_demo.chance import Chance

FIBRE_DENSITY: Final = {"nylon": 1.14, "polyester": 1.38}
"""g/cm3, Morton & Hearle, Physical Properties of Textile Fibres, tables 5.1 and 5.2."""

SOFTNESS_SD: Final = 0.09
WIDTH_SD: Final = 0.07
"""How far (log) a cord's packing and flat width stray from what its calipers suggest: hidden quirks."""

SHEATH_SHARE: Final = 0.62
"""What is left of a cord's mass once its inner yarns are drawn (the invented cords are all alike in it)."""

NEVER_PLAITED: Final = "Holm 3 mm"
"""Bought and measured, but in no whip: the cord to predict."""


@dataclass(frozen=True)
class CordNature:
    """What one cord is really like. Areas in mm2, widths in mm, packing as a fraction of solid fibre."""

    name: str
    construction: str
    fibre_mm2: float
    width_mm: float
    packing: float
    linear_density_g_per_m: float

    @cached_property
    def thickness_mm(self) -> float:
        """Of one strand lying at ease in a plait."""
        return self.fibre_mm2 / (self.packing * self.width_mm)

    @cached_property
    def bundled_mm(self) -> float:
        """Diameter that one strand takes up in a bundle of parallel strands."""
        return 2 * math.sqrt(self.fibre_mm2 / (math.pi * (0.35 + 0.55 * self.packing)))

    @cached_property
    def sheath(self) -> "CordNature":
        """The same strand with its inner yarns drawn."""
        if self.construction == "gutted":
            return self
        return CordNature(
            f"{self.name}, sheath only",
            "gutted",
            self.fibre_mm2 * SHEATH_SHARE,
            self.width_mm * 0.86,
            self.packing * 0.98,
            self.linear_density_g_per_m * SHEATH_SHARE,
        )


@dataclass(frozen=True)
class _Entry:
    """One line of the cord book: size and scale, and whether ruler and pressed calipers were used too."""

    name: str
    material: str
    construction: str
    diameter_mm: float
    linear_density_g_per_m: float
    stock: tuple[tuple[str, str, int, float], ...]
    weighed: bool = True
    thorough: bool = False
    notes: str | None = None


_BOOK: Final = (
    _Entry(
        "Ridge 4 mm", "nylon", "cored", 4.0, 7.2,
        (("black", "2021-03", 300, 0.21), ("walnut", "2023-02", 200, 0.24), ("rust", "2024-01", 100, 0.24)),
        thorough=True,
    ),
    _Entry(
        "Ridge 4 mm gutted", "nylon", "gutted", 2.9, 4.5,
        (("black", "2021-03", 120, 0.21), ("rust", "2024-01", 60, 0.24)), thorough=True,
        notes="inner yarns drawn by hand; price is that of the whole cord",
    ),
    _Entry(
        "Fell 3 mm", "nylon", "cored", 3.0, 4.0,
        (("slate", "2021-09", 250, 0.15), ("moss", "2023-05", 150, 0.16), ("sand", "2023-05", 150, 0.16)),
        thorough=True,
    ),
    _Entry("Fell 3 mm gutted", "nylon", "gutted", 2.2, 2.6, (("slate", "2021-09", 90, 0.15),)),
    _Entry(
        "Beck 2.5 mm", "nylon", "cored", 2.5, 2.75,
        (("plum", "2022-04", 200, 0.13), ("black", "2022-11", 200, 0.13)),
    ),
    _Entry(
        "Tarn 2 mm", "polyester", "cored", 2.0, 2.15,
        (("white", "2022-06", 300, 0.11), ("navy", "2024-03", 200, 0.12)), thorough=True,
    ),
    _Entry("Crag 5 mm", "nylon", "cored", 5.0, 11.2, (("black", "2021-10", 100, 0.33),)),
    _Entry(
        "Scar 4.5 mm", "polyester", "cored", 4.5, 10.0,
        (("ochre", "2022-08", 100, 0.29), ("navy", "2023-10", 80, 0.31)), weighed=False,
        notes="too springy to lie straight on the scale",
    ),
    _Entry(
        "Heath 3.5 mm", "polyester", "cored", 3.5, 6.3,
        (("heather", "2022-03", 200, 0.19), ("black", "2022-03", 200, 0.19), ("cream", "2023-12", 80, 0.20)),
        thorough=True,
    ),
    _Entry(
        "Heath 3.5 mm gutted", "polyester", "gutted", 2.55, 4.0, (("heather", "2022-03", 80, 0.19),),
        weighed=False,
    ),
    _Entry(
        "Wold 4 mm", "nylon", "cored", 4.1, 6.4,
        (("straw", "2023-04", 150, 0.20), ("bottle green", "2023-04", 150, 0.20)), thorough=True,
        notes="softer than it looks",
    ),
    _Entry(
        NEVER_PLAITED, "polyester", "cored", 3.1, 4.9, (("teal", "2025-01", 100, 0.18),), thorough=True,
        notes="bought to try; in no whip yet",
    ),
)  # fmt: skip


def natures(seed: int) -> dict[str, CordNature]:
    """What each cord is really like in the workshop of this seed."""
    return {entry.name: _nature(entry, seed) for entry in _BOOK}


def _nature(entry: _Entry, seed: int) -> CordNature:
    chance = Chance(seed, "cord", entry.name)
    gutted = entry.construction == "gutted"
    return CordNature(
        entry.name,
        entry.construction,
        entry.linear_density_g_per_m / FIBRE_DENSITY[entry.material],
        entry.diameter_mm * (1.28 if gutted else 1.08) * math.exp(chance.normal(WIDTH_SD)),
        (0.64 if gutted else 0.67) * math.exp(chance.normal(SOFTNESS_SD)),
        entry.linear_density_g_per_m,
    )


def cord_records(seed: int) -> list[dict[str, Any]]:
    """The cord book and the shelf as records: every cord, then its stock by colour and lot."""
    records: list[dict[str, Any]] = []
    for entry in _BOOK:
        nature = _nature(entry, seed)
        chance = Chance(seed, "cord measured", entry.name)
        record: dict[str, Any] = {"kind": "cord", "name": entry.name, "material": entry.material}
        record |= {"construction": entry.construction, "diameter_mm": entry.diameter_mm}
        if entry.thorough:
            pressed = nature.thickness_mm * 0.95 * math.exp(chance.normal(0.015))
            record["pressed_mm"] = round(pressed, 2)
            record["flat_width_mm"] = round(nature.width_mm * math.exp(chance.normal(0.015)), 2)
        if entry.weighed:
            record["linear_density_g_per_m"] = entry.linear_density_g_per_m
        record["supplier"] = "market stall" if chance.happens(0.4) else "chandler in the harbour"
        record["price_per_m"] = entry.stock[0][3]
        if entry.notes:
            record["notes"] = entry.notes
        records.append(record)
    for entry in _BOOK:
        for colour, lot, metres, price in entry.stock:
            stock = {"kind": "stock", "cord": entry.name, "colour": colour, "lot": lot, "metres": metres}
            records.append(stock | {"price_per_m": price})
    return records
