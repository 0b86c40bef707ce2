"""From a wish (thick end, point, taper) to strand counts and drops, the way a maker with experience chooses.

Counts are even and regular, so that strands just about close the surface; the core thins one strand at a
time, the belly in pairs and ends past the core, the overlay drops pairs where strands begin to crowd and
runs alone to the point, with a short parallel length at both ends (common practice, no source).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from typing import Final

from plaitlog.seed_demo.cords import CordNature
from plaitlog.seed_demo.thong import CUT, Drop, Parting, PlaitedLayer, Thong

GOOD_COVER: Final = 0.82
REGULAR: Final = {8: 0.0, 10: 0.4, 12: 0.0, 14: 0.5, 16: 0.0, 18: 0.5, 20: 0.5, 24: 3.0}
"""Counts a layer may start with, and how much (in penalty) makers shun their pattern or their tedium."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the maker has in mind. ``trend`` above 0: drops ever further apart along the thong.

    ``core_share`` and ``belly_share`` are the parts of the thong that core and (last) belly run; a pair of
    overlay strands is dropped as soon as ``lean_cover`` (0.10 less towards the end of the body) is left
    without it; ``sheath_mm`` is a sheath of shot
    instead of a core of strands; ``last_runs``: the last strands dropped run on inside, for a firm point.
    """

    length_mm: float
    thick_mm: float
    point_mm: float
    core: str
    bellies: tuple[str, ...]
    overlay: tuple[str, ...]
    core_share: float
    belly_share: float
    trend: float
    lean_cover: float
    hold_thick_mm: float
    hold_point_mm: float
    grid_mm: float
    belly_parting: Parting = CUT
    overlay_parting: Parting = CUT
    sheath_mm: float | None = None
    last_runs: bool = False
    binding: bool = False
    bolster: bool = False


def shape(wish: Wish, cords: Mapping[str, CordNature]) -> Thong:
    """The thong that a maker of the workshop would plait for this wish."""
    core_end, body_end = wish.core_share * wish.length_mm, wish.belly_share * wish.length_mm
    counts = _starting_counts(wish, cords)
    layers = [_core(wish, counts[0], core_end)]
    if wish.bolster:
        layers.append(_wrap("bolster", 1.0, core_end * 0.5, "leather strip", 6.0, wish))
    before = core_end
    for number, (name, count) in enumerate(zip(wish.bellies, counts[1:-1], strict=True), start=1):
        end = core_end + (body_end - core_end) * number / len(wish.bellies)
        layers.append(_belly(wish, name, count, before, end))
        before = end
    if wish.binding:
        layers.append(_wrap("binding", 0.2, core_end * 0.8, "waxed thread", 1.0, wish))
    layers.append(_overlay(wish, layers, counts[-1], before, cords))
    return Thong(length_mm=wish.length_mm, layers=tuple(layers), cords=cords)


def spaced(count: int, first_mm: float, last_mm: float, trend: float, grid_mm: float) -> list[float]:
    """``count`` places after ``first_mm``, the last at ``last_mm``, on the maker's grid, none twice.

    The last spacing is exp(1.2 trend) times the first.
    """
    if count <= 0:
        return []
    weights = [math.exp(1.2 * trend * ((i + 0.5) / count - 0.5)) for i in range(count)]
    places: list[float] = []
    covered = 0.0
    for weight in weights:
        covered += weight / sum(weights) * (last_mm - first_mm)
        place = _on_grid(first_mm + covered, grid_mm)
        places.append(max(place, places[-1] + grid_mm) if places else place)
    return places


def _on_grid(at_mm: float, grid_mm: float) -> float:
    return round(round(at_mm / grid_mm) * grid_mm, 4)


def _starting_counts(wish: Wish, cords: Mapping[str, CordNature]) -> tuple[int, ...]:
    """Strands of core, bellies and overlay that come nearest to the wished thick end."""
    overlay = [cords[name] for name in wish.overlay]
    left = wish.thick_mm - 1.9 * sum(each.thickness_mm for each in overlay) / len(overlay)
    choices = [_closing(left, overlay)]
    left -= wish.thick_mm - left
    for name in reversed(wish.bellies):
        half_wall = 1.9 * cords[name].thickness_mm
        choices.insert(0, _closing(left - half_wall, [cords[name]]))
        left -= 2 * half_wall
    best, chosen = math.inf, (2, *(each[0] for each in choices))
    for plaited in product(*choices):
        for core in (1,) if wish.sheath_mm else range(2, 17):
            layers = [_core(wish, core, 1.0)]
            for name, count in zip(wish.bellies, plaited, strict=False):
                layers.append(PlaitedLayer(role="belly", cords=(name,), drops=(Drop(0, count),)))
            layers.append(PlaitedLayer(role="overlay", cords=wish.overlay, drops=(Drop(0, plaited[-1]),)))
            made = Thong(length_mm=1, layers=tuple(layers), cords=cords).section_at(0)
            cost = ((made.diameter_mm - wish.thick_mm) / 0.6) ** 2 + ((made.cover - GOOD_COVER) / 0.08) ** 2
            cost += sum(REGULAR[count] for count in plaited)
            cost += 0.7 * max(4 - core, 0) + 0.4 * max(core - 12, 0)  # neither a stub nor a rope of strands
            if cost < best:
                best, chosen = cost, (core, *plaited)
            if made.diameter_mm > wish.thick_mm + 1.5:
                break
    return chosen


def _closing(middle_mm: float, strands: Sequence[CordNature]) -> list[int]:
    """The three counts that come nearest to closing a surface of this mean diameter."""
    width = sum(each.width_mm for each in strands) / len(strands)
    wanted = GOOD_COVER * 2 * math.pi * max(middle_mm, 3.0) / width
    allowed = [count for count in REGULAR if len(strands) == 1 or count % 4 == 0]
    return sorted(allowed, key=lambda count: abs(count - wanted))[:3]


def _core(wish: Wish, count: int, end_mm: float) -> PlaitedLayer:
    if wish.sheath_mm:
        grams = math.pi / 4 * wish.sheath_mm**2 * 3.9  # steel shot with its voids, in a sheath
        return PlaitedLayer(
            role="core",
            diameter_mm=wish.sheath_mm,
            to_mm=_on_grid(end_mm, wish.grid_mm),
            what="steel shot in a sheath",
            grams_per_m=grams,
        )
    places = spaced(count, wish.hold_thick_mm, end_mm, wish.trend, wish.grid_mm)
    drops = [Drop(place, count - i) for i, place in enumerate(places, start=1)]
    return PlaitedLayer(role="core", cords=(wish.core,), drops=(Drop(0.0, count), *drops))


def _belly(wish: Wish, name: str, count: int, before_mm: float, end_mm: float) -> PlaitedLayer:
    left = 6 if count > 12 else 4
    falls = (count - left) // 2
    start = max(wish.hold_thick_mm, 0.45 * before_mm)
    places = spaced(falls + 1, start, end_mm, wish.trend, wish.grid_mm)
    drops = [Drop(place, count - 2 * i) for i, place in enumerate(places[:-1], start=1)]
    steps = (Drop(0.0, count), *drops, Drop(places[-1], 0))
    return PlaitedLayer(role="belly", cords=(name,), drops=steps, parting=wish.belly_parting)


def _wrap(role: str, thickness_mm: float, end_mm: float, what: str, grams: float, wish: Wish) -> PlaitedLayer:
    end = _on_grid(end_mm, wish.grid_mm)
    return PlaitedLayer(role=role, thickness_mm=thickness_mm, to_mm=end, what=what, grams_per_m=grams)


def _overlay(
    wish: Wish, below: list[PlaitedLayer], count: int, body_end_mm: float, cords: Mapping[str, CordNature]
) -> PlaitedLayer:
    last = _point_count(wish, cords)
    drops, parting = [Drop(0.0, count)], wish.overlay_parting

    def layer() -> PlaitedLayer:
        return PlaitedLayer(role="overlay", cords=wish.overlay, drops=tuple(drops), parting=parting)

    at = max(wish.hold_thick_mm, 75.0)
    while at < body_end_mm - 60 and count - 2 >= max(last, 6):
        made = Thong(length_mm=wish.length_mm, layers=(*below, layer()), cords=cords).section_at(at)
        lean = wish.lean_cover - 0.10 * at / body_end_mm
        if made.cover * (count - 2) / count > lean:
            count -= 2
            drops.append(Drop(_on_grid(at, wish.grid_mm), count))
            at += 40
        at += 25
    hold = max(wish.hold_point_mm, wish.overlay_parting.length_mm + 50)  # nothing tucked in the parallel end
    taper_end = max(wish.length_mm - hold, body_end_mm + 100)
    falls = max((count - last) // 2, 0)
    for place in spaced(falls, body_end_mm + 40, taper_end, wish.trend, wish.grid_mm):
        count -= 2
        drops.append(Drop(place, count))
    close = any(
        after.at_mm - before.at_mm < 0.6 * parting.length_mm for before, after in pairwise(drops[-3:])
    )
    if close:  # tucks on top of tucks would make a lump
        parting = CUT
    if wish.last_runs and len(drops) > 1:
        drops[-1] = replace(drops[-1], parting=Parting("run", gutted=parting.gutted))
    return layer()


def _point_count(wish: Wish, cords: Mapping[str, CordNature]) -> int:
    def miss(count: int) -> float:
        alone = PlaitedLayer(role="overlay", cords=wish.overlay, drops=(Drop(0.0, count),))
        made = Thong(length_mm=1, layers=(alone,), cords=cords).section_at(0)
        return abs(made.diameter_mm - wish.point_mm)

    return min((4, 6, 8), key=miss)
