"""What the makers measure: calipers and tape along the thong, scale, balance, turn length, cord used."""

import datetime as dt
import math
from typing import Any, Final

from plaitlog.seed_demo.builds import INCH_MM, Build
from plaitlog.seed_demo.chance import Chance
from plaitlog.seed_demo.makers import CALIPER_SD_MM, LOCAL_SD
from plaitlog.seed_demo.mechanics import strand_path, turn_length
from plaitlog.seed_demo.thong import Thong

KEEP_OFF_MM: Final = 20.0
"""Nobody measures nearer to a drop than this (common practice, no source)."""
CONDITION_EFFECT: Final = {"fresh": 0.015, "rolled": 0.0, "waxed": -0.003, "broken in": -0.015}
"""Invented: how a plait's diameter (log) moves with what was done to it."""
TAPE_BRIDGES: Final = 0.008
"""Invented: a tape spans the hollows between crossings and reads this much (log) thicker."""
STEEL_G_PER_CM3: Final = 7.85
TAIL_MM: Final = 300.0


class Calipers:
    """Readings on one whip. The local irregularity belongs to the place, the caliper's to the reading."""

    def __init__(self, build: Build, chance: Chance) -> None:
        self._build = build
        self._chance = chance
        self._local: dict[tuple[float, int | None], float] = {}

    def read(
        self, at_mm: float, after_layer: int | None = None, condition: str = "rolled", bridged: float = 0.0
    ) -> float:
        """One reading of the diameter in mm."""
        place = (at_mm, after_layer)
        if place not in self._local:
            self._local[place] = self._chance.normal(LOCAL_SD)
        section = self._build.thong.section_at(at_mm, after_layer)
        pulled = section.pulled(self._build.pull + CONDITION_EFFECT[condition] + bridged)
        return pulled * math.exp(self._local[place]) + self._chance.normal(CALIPER_SD_MM)


def readings(build: Build, chance: Chance, inner_only: bool = False) -> list[dict[str, Any]]:
    """The readings on one whip, finished ones from the thick end to the point, then those on inner layers."""
    calipers = Calipers(build, chance)
    condition = chance.one_of((None, None, None, "fresh", "waxed", "rolled"))
    found: list[dict[str, Any]] = []
    if not inner_only:
        twice = chance.happens(0.35)
        taped = chance.happens(0.2)
        for at in _stations(build, chance.whole(8, 13)):
            size = calipers.read(at, condition=condition or "rolled")
            found.append(_place(build, at) | _size(build, size) | _stated(condition))
            if twice:
                again = calipers.read(at, condition=condition or "rolled")
                found.append(_place(build, at) | _size(build, again) | _stated(condition))
            if taped and chance.happens(0.4):
                size = calipers.read(at, condition=condition or "rolled", bridged=TAPE_BRIDGES)
                girth = round((size + 0.3) * math.pi * 2) / 2
                found.append(_place(build, at) | {"girth_mm": girth, "tape_mm": 0.3} | _stated(condition))
    if inner_only or chance.happens(0.45):
        found.extend(_inner(build, calipers, chance))
    return found


def _inner(build: Build, calipers: Calipers, chance: Chance) -> list[dict[str, Any]]:
    """Readings on the last belly (or the core) before the overlay went on."""
    thong = build.thong
    slot = max(n for n, layer in enumerate(thong.layers[:-1], start=1) if layer.cords or layer.diameter_mm)
    below = thong.layers[slot - 1]
    end = below.drops[-1].at_mm if below.drops else below.to_mm
    found = []
    for at in _stations(build, chance.whole(4, 6), end * 0.92):
        size = calipers.read(at, slot, "fresh")
        found.append(_place(build, at) | _size(build, size) | {"after_layer": slot, "condition": "fresh"})
    return found


def late_reading(build: Build, chance: Chance) -> dict[str, Any]:
    """One reading on a whip that has been thrown for some months, as a record of its own."""
    at = _stations(build, 7)[chance.whole(1, 5)]
    size = Calipers(build, chance).read(at, condition="broken in")
    day = build.made_on + dt.timedelta(days=chance.whole(90, 260))
    record = {"kind": "reading", "whip": build.label} | _place(build, at) | _size(build, size)
    return record | {"condition": "broken in", "on": day.isoformat()}


def _stations(build: Build, count: int, end_mm: float | None = None) -> list[float]:
    """Places off the drops, from an inch behind the thick end to just before the end."""
    grid = INCH_MM if build.maker.inches else 10.0
    last = (build.thong.length_mm if end_mm is None else end_mm) - 20
    drops = [drop.at_mm for layer in build.thong.layers for drop in layer.drops[1:]]
    places: list[float] = []
    for i in range(count):
        wanted = 30 + (last - 30) * i / (count - 1)
        place = min(round(wanted / grid), math.floor(last / grid)) * grid
        for shift in (0, grid, -grid, 2 * grid, -2 * grid, 3 * grid, -3 * grid):
            moved = round(place + shift, 4)
            if 10 <= moved <= last and all(abs(moved - drop) >= KEEP_OFF_MM for drop in drops):
                place = moved
                break
        if not places or place > places[-1]:
            places.append(place)
    return places


def _place(build: Build, at_mm: float) -> dict[str, Any]:
    return {"at": inches(at_mm)} if build.maker.inches else {"at_mm": at_mm}


def _size(build: Build, size_mm: float) -> dict[str, Any]:
    if not build.maker.inches:
        return {"diameter_mm": round(size_mm, 1)}
    return {"diameter": f"{size_mm:.1f} mm"}


def _stated(condition: str | None) -> dict[str, Any]:
    return {"condition": condition} if condition else {}


def inches(length_mm: float, feet: bool = False) -> str:
    """A length as Tamsin writes it: ``12 in``, ``7 1/2 in``, or ``5' 6"`` for long ones."""
    halves = round(length_mm / INCH_MM * 2)
    whole, half = divmod(halves, 2)
    if feet and whole >= 12:
        foot, whole = divmod(whole, 12)
        rest = f"{whole} 1/2" if half else f"{whole}"
        return f"{foot}' {rest}\"" if whole or half else f"{foot} ft"
    if not half:
        return f"{whole} in"
    return f"{whole} 1/2 in" if whole else "1/2 in"


def thong_grams(thong: Thong, parts: int = 24, after_layer: int | None = None) -> list[tuple[float, float]]:
    """(place in mm, grams) of each short piece of the thong, or of its layers up to one."""
    step = thong.length_mm / parts
    places = [(i + 0.5) * step for i in range(parts)]
    return [(at, thong.section_at(at, after_layer).grams_per_m * step / 1000) for at in places]


def early_weighing(build: Build, chance: Chance) -> list[dict[str, Any]]:
    """Weight of the belly before the overlay went on, over its rod where there is one; now and then."""
    slots = [n for n, layer in enumerate(build.thong.layers[:-1], start=1) if layer.role == "belly"]
    if not slots or not chance.happens(0.3):
        return []
    slot = slots[-1]
    grams = sum(mass for _, mass in thong_grams(build.thong, after_layer=slot))
    if build.rod_mm:
        length = (build.handle_mm or 0.0) / 1000
        grams += math.pi / 4 * build.rod_mm**2 * length * STEEL_G_PER_CM3
        grams += build.thong.section_at(0, slot).grams_per_m * 0.8 * length
    return [{"weight_g": round(grams * math.exp(chance.normal(0.008))), "after_layer": slot}]


def weighing(build: Build, chance: Chance) -> dict[str, Any]:
    """Weight and balance, with what was on the scale beside handle and thong."""
    pieces = thong_grams(build.thong)
    pieces += _handle(build, chance)
    with_parts: list[str] = []
    if build.kind.fall != "none" and chance.happens(0.6):
        with_parts = ["fall", "cracker"]
        pieces.append((build.thong.length_mm + 300, chance.between(8, 15)))
    total = sum(grams for _, grams in pieces) * math.exp(chance.normal(0.008))
    record: dict[str, Any] = {"weight_g": round(total), "weight_with": with_parts or "none"}
    if build.type in ("bullwhip", "snake whip", "signal whip") and chance.happens(0.7):
        mean = sum(at * grams for at, grams in pieces) / sum(grams for _, grams in pieces)
        at = round((mean + (build.handle_mm or 0.0) + chance.normal(5)) / 5) * 5
        record["balance"] = {"at_mm": at, "from": "butt", "how": "laid straight"}
    return record


def _handle(build: Build, chance: Chance) -> list[tuple[float, float]]:
    """Pieces of the handle and its fittings, at places before the thong."""
    length = build.handle_mm or 0.0
    if build.rod_mm:
        rod = math.pi / 4 * build.rod_mm**2 * length / 1000 * STEEL_G_PER_CM3
        cover = build.thong.section_at(0).grams_per_m * 0.8 * length / 1000
        return [(-length / 2, rod + cover), (-length, chance.between(10, 16))]
    if length:
        return [(-length / 2, length * chance.between(0.20, 0.30)), (0.0, chance.between(5, 8))]
    return [(0.0, chance.between(8, 13))]


def turns(build: Build, chance: Chance) -> list[dict[str, Any]]:
    """One or two turn lengths on the finished overlay, in the thick half."""
    found = []
    for at in _stations(build, 8)[1 : 2 + chance.whole(0, 1)]:
        turn = turn_length(build.thong.section_at(at)) * math.exp(chance.normal(0.03))
        found.append(_place(build, at) | {"turn_mm": round(turn)})
    return found


def cord_used(build: Build) -> list[dict[str, Any]]:
    """Metres of each cord that went in, with a tail for the hand on every strand."""
    thong, metres = build.thong, dict[str, float]()
    handle = build.handle_mm if build.rod_mm else None
    for slot, layer in enumerate(thong.layers, start=1):
        if not layer.cords:
            continue
        for before, drop in zip(layer.drops, (*layer.drops[1:], None), strict=True):
            end = drop.at_mm if drop else thong.length_mm
            ended = before.count - (drop.count if drop else 0)
            middle = thong.section_at(end / 2, slot)
            path = strand_path(middle) if layer.role != "core" else 1 / 1.03
            length = (end + (handle or 0.0 if layer.role != "core" else 0.0)) * path + TAIL_MM
            for name in layer.cords:
                metres[name] = metres.get(name, 0.0) + ended / len(layer.cords) * length / 1000
    return [{"cord": name, "metres": round(used, 1)} for name, used in metres.items() if used > 0.05]
