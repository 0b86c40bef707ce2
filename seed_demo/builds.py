"""Which whips the workshop made: types, sizes, cords, tapers, dates, and who made them, drawn from chance."""

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from plaitlog.seed_demo.chance import Chance
from plaitlog.seed_demo.cords import CordNature
from plaitlog.seed_demo.makers import ORRIN, TAMSIN, WHIP_PULL_SD, Maker
from plaitlog.seed_demo.shaping import Wish, shape
from plaitlog.seed_demo.thong import CUT, Parting, Thong

FOOT_MM: Final = 304.8
INCH_MM: Final = 25.4
FIRST_DAY: Final = dt.date(2022, 3, 6)
TAPERS: Final = {"early": (0.27, 0.46, 0.70), "even": (0.44, 0.62, 0.76), "late": (0.58, 0.73, 0.82)}
"""Parts of the thong that core and belly run, and the cover to which the overlay is thinned: early with core
and belly to a quarter and a half (common practice, no source), the others invented in proportion."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A type of whip as the workshop makes it. Lengths are those quoted, in feet; sizes from, to, in mm.

    ``over_handle``: the quoted length runs over the handle.
    """

    feet: tuple[float, ...]
    thick: tuple[float, float]
    point: tuple[float, float]
    cores: tuple[str, ...]
    bellies: tuple[tuple[str, ...], ...]
    overlays: tuple[tuple[str, ...], ...]
    handle_inches: tuple[float, ...] = ()
    over_handle: bool = False
    steel: bool = False
    fall: str = "single strand of the overlay cord"
    hold_thick_inches: float = 2.0
    hold_point_inches: tuple[float, float] = (4, 7)


KINDS: Final[Mapping[str, Kind]] = {
    "bullwhip": Kind(
        feet=(5, 5.5, 6, 6, 6, 7, 8, 10),
        thick=(18.0, 22.0),
        point=(6.5, 8.5),
        cores=("Fell 3 mm", "Ridge 4 mm gutted", "Fell 3 mm gutted", "Beck 2.5 mm"),
        bellies=(("Fell 3 mm gutted",), ("Beck 2.5 mm",), ("Tarn 2 mm",), ("Heath 3.5 mm gutted",)),
        overlays=(
            ("Ridge 4 mm",), ("Ridge 4 mm", "Wold 4 mm"), ("Wold 4 mm",), ("Heath 3.5 mm",),
            ("Heath 3.5 mm", "Ridge 4 mm"), ("Fell 3 mm",), ("Ridge 4 mm",),
        ),
        handle_inches=(8, 8, 9, 10, 12), over_handle=True, steel=True,
    ),
    "stock whip": Kind(
        feet=(4, 5, 5.5, 6, 6, 7),
        thick=(13.4, 14.6),
        point=(5.0, 6.2),
        cores=("Beck 2.5 mm", "Fell 3 mm gutted", "Heath 3.5 mm gutted"),
        bellies=((),),
        overlays=(
            ("Beck 2.5 mm",), ("Fell 3 mm",), ("Heath 3.5 mm gutted",), ("Fell 3 mm gutted",),
            ("Beck 2.5 mm", "Fell 3 mm gutted"), ("Beck 2.5 mm",), ("Fell 3 mm gutted",),
        ),
        handle_inches=(18, 19, 20), hold_thick_inches=12.0, hold_point_inches=(6, 8),
    ),
    "snake whip": Kind(
        feet=(3, 3.5, 4, 5),
        thick=(16.0, 18.5),
        point=(6.0, 7.5),
        cores=("Fell 3 mm", "Ridge 4 mm gutted"),
        bellies=(("Fell 3 mm gutted",), ("Beck 2.5 mm",), ("Tarn 2 mm",)),
        overlays=(("Fell 3 mm",), ("Heath 3.5 mm",), ("Ridge 4 mm gutted",), ("Ridge 4 mm",)),
    ),
    "signal whip": Kind(
        feet=(3, 3.5, 4),
        thick=(12.5, 15.0),
        point=(4.8, 6.2),
        cores=("Beck 2.5 mm", "Tarn 2 mm", "Fell 3 mm gutted"),
        bellies=((), ("Tarn 2 mm",)),
        overlays=(("Beck 2.5 mm",), ("Fell 3 mm",), ("Fell 3 mm gutted",), ("Beck 2.5 mm", "Tarn 2 mm")),
        fall="none", hold_point_inches=(3, 5),
    ),
    "cow whip": Kind(
        feet=(7, 8, 9, 10),
        thick=(20.0, 24.0),
        point=(7.5, 9.5),
        cores=("Ridge 4 mm", "Crag 5 mm", "Fell 3 mm", "Crag 5 mm"),
        bellies=(("Fell 3 mm",), ("Ridge 4 mm gutted",), ("Beck 2.5 mm",)),
        overlays=(("Heath 3.5 mm",), ("Scar 4.5 mm",), ("Ridge 4 mm", "Scar 4.5 mm"), ("Scar 4.5 mm",)),
        handle_inches=(15, 16, 18),
    ),
}  # fmt: skip

THIN: Final = ("Beck 2.5 mm", "Fell 3 mm gutted", "Tarn 2 mm")
"""Cords thin enough that two more strands inside leave a point slender."""

_SEQUENCE: Final = {"bullwhip": 16, "stock whip": 12, "snake whip": 7, "signal whip": 7, "cow whip": 6}


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One whip as it really is; ``pull`` is that of the hand and the day (log diameter)."""

    label: str
    type: str
    kind: Kind
    maker: Maker
    build_number: int
    made_on: dt.date
    wish: Wish
    thong: Thong
    pull: float
    quoted_feet: float
    handle_mm: float | None
    handle_diameter_mm: float | None
    rod_mm: float | None
    taper: str

    def true_diameter(self, at_mm: float, after_layer: int | None = None) -> float:
        return self.thong.section_at(at_mm, after_layer).pulled(self.pull)


def builds(seed: int, cords: Mapping[str, CordNature]) -> list[Build]:
    """The whips of the years that the workshop kept full records, oldest first."""
    order = _order(seed)
    numbers = {ORRIN.name: 21, TAMSIN.name: 0}
    yearly: dict[int, int] = {}
    found: list[Build] = []
    day = FIRST_DAY
    for place, name in enumerate(order):
        chance = Chance(seed, "build", place)
        maker = ORRIN if chance.happens(0.52) else TAMSIN
        numbers[maker.name] += 1
        yearly[day.year] = yearly.get(day.year, 0) + 1
        label = f"{day.year}-{yearly[day.year]:03d}"
        found.append(build(label, name, maker, numbers[maker.name], day, chance, cords))
        day += dt.timedelta(days=chance.whole(14, 34))
    return found


def build(
    label: str,
    name: str,
    maker: Maker,
    number: int,
    day: dt.date,
    chance: Chance,
    cords: Mapping[str, CordNature],
) -> Build:
    """One whip of a type, everything about it drawn from ``chance``."""
    kind = KINDS[name]
    feet = chance.one_of(kind.feet)
    handle = chance.one_of(kind.handle_inches) * INCH_MM if kind.handle_inches else None
    length = feet * FOOT_MM - (handle or 0.0 if kind.over_handle else 0.0)
    taper = chance.one_of(("early", "early", "even", "even", "late"))
    wish = _wish(name, kind, maker, length, taper, chance)
    thong = shape(wish, cords)
    pull = maker.pull + chance.normal(WHIP_PULL_SD)
    rod = chance.one_of((8.0, 9.0, 10.0)) if kind.steel else None
    handle_diameter = None
    if kind.steel:
        handle_diameter = round(thong.section_at(0).pulled(pull) * 1.04 + chance.between(0.3, 1.4), 1)
    return Build(
        label=label, type=name, kind=kind, maker=maker, build_number=number, made_on=day, wish=wish,
        thong=thong, pull=pull, quoted_feet=feet, handle_mm=handle, handle_diameter_mm=handle_diameter,
        rod_mm=rod, taper=taper,
    )  # fmt: skip


def _wish(name: str, kind: Kind, maker: Maker, length: float, taper: str, chance: Chance) -> Wish:
    core_share, belly_share, lean = TAPERS[taper]
    bellies = chance.one_of(kind.bellies)
    if len(bellies) == 1 and length > 2400:  # a long whip has two
        bellies = (chance.one_of(kind.bellies[:2])[0], *bellies)
    if not bellies:
        core_share = belly_share
    overlay = chance.one_of(kind.overlays)
    sheath = chance.one_of((5.0, 6.0)) if name == "snake whip" and chance.happens(0.4) else None
    tuck = Parting("tuck", 3 * INCH_MM if maker.inches else 80.0, gutted=True)
    if all("gutted" in cord for cord in overlay):
        tuck = Parting("tuck", 2 * INCH_MM if maker.inches else 60.0)
    return Wish(
        length_mm=length,
        thick_mm=chance.between(*kind.thick),
        point_mm=chance.between(*kind.point),
        core=chance.one_of(kind.cores),
        bellies=bellies,
        overlay=overlay,
        core_share=core_share + chance.between(-0.04, 0.04),
        belly_share=belly_share + chance.between(-0.04, 0.04),
        lean_cover=lean,
        trend=chance.between(-1.0, 1.0),
        hold_thick_mm=min(kind.hold_thick_inches * INCH_MM, 0.2 * length),
        hold_point_mm=chance.between(*kind.hold_point_inches) * INCH_MM,
        grid_mm=maker.grid_mm,
        belly_parting=chance.one_of((CUT, CUT, Parting("tuck", tuck.length_mm))),
        overlay_parting=chance.one_of((CUT, tuck, tuck, tuck)),
        sheath_mm=sheath,
        last_runs=name == "signal whip" and all(cord in THIN for cord in overlay) and chance.happens(0.3),
        binding=chance.happens(0.3),
        bolster=name == "bullwhip" and chance.happens(0.12),
    )


def _order(seed: int) -> list[str]:
    """The types in the order they were made: shuffled, each as often as it is listed."""
    chance = Chance(seed, "order")
    names = [name for name, times in _SEQUENCE.items() for _ in range(times)]
    for last in range(len(names) - 1, 0, -1):
        other = chance.whole(0, last)
        names[last], names[other] = names[other], names[last]
    return names


def fullness(build: Build, stations: int = 25) -> float:
    """Mean of (D - point) / (thick end - point) along the thong as it truly is: 0.5 is a straight line."""
    length = build.thong.length_mm
    places = [length * (i + 0.5) / stations for i in range(stations)]
    profile = [build.true_diameter(place) for place in places]
    thick, point = max(profile[:3]), profile[-1]
    return math.fsum((size - point) / (thick - point) for size in profile) / stations
