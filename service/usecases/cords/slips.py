"""Measurements of a cord that cannot well be, each with the slip that would explain it: mostly a unit.

A slip is looked for one measurement at a time: the value put right must leave nothing to doubt, and of
several the one is named that goes best with what else was measured.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from plaitlog.models.calibration.packed import PRESSED
from plaitlog.models.errors import Finding
from plaitlog.models.geometry import (
    area_is_measured,
    bare_area_mm2,
    cord_diameter_mm,
    flat_width_mm,
    strand_area_mm2,
)
from plaitlog.models.plausibility import USUAL_CORD_MM, cord_findings
from plaitlog.models.units import G_PER, MM_PER
from plaitlog.models.whip import Construction, Cord
from plaitlog.service.usecases.shown_units import ShownUnits

IN, OZ, FT = float(MM_PER["in"]), float(G_PER["oz"]), float(MM_PER["ft"] / 1000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What was measured of a cord: a length in mm and what it weighs in g, ten strands side by side, caliper
    readings just touching and pressed shut in mm; None where not measured."""

    weighed_mm: float | None = None
    grams: float | None = None
    ten_mm: float | None = None
    touching_mm: float | None = None
    pressed_mm: float | None = None

    def cord(self, name: str, material: str, construction: Construction) -> Cord:
        """The cord that was measured."""
        density = None
        if self.weighed_mm is not None and self.grams is not None:
            density = self.grams / self.weighed_mm * 1000
        return Cord(
            name=name,
            material=material,
            construction=construction,
            diameter_mm=self.touching_mm,
            pressed_mm=self.pressed_mm,
            flat_width_mm=None if self.ten_mm is None else self.ten_mm / 10,
            linear_density_g_per_m=density,
        )


@dataclass(frozen=True, slots=True)
class _Slip:
    field: str
    factor: float
    words: str


_SIZES: Final = (
    (IN, "inches, typed as mm"),
    (1 / IN, "mm, typed as inches"),
    (10.0, "cm, typed as mm"),
    (0.1, "a decimal point that is missing"),
)
_SLIPS: Final = (
    *(_Slip(field, factor, words) for field in ("touching_mm", "pressed_mm") for factor, words in _SIZES),
    _Slip("ten_mm", 10.0, "the width of one strand, or cm typed as mm"),
    _Slip("ten_mm", IN, "inches, typed as mm"),
    _Slip("ten_mm", 1 / IN, "mm, typed as inches"),
    _Slip("ten_mm", 0.1, "a decimal point that is missing"),
    _Slip("grams", OZ, "ounces, typed as g"),
    _Slip("weighed_mm", 0.1, "the grams of 1 m, with 10 m typed"),
    _Slip("weighed_mm", 10.0, "the grams of 10 m, with 1 m typed"),
    _Slip("weighed_mm", FT, "feet, typed as m"),
)
NAMES: Final = {
    "touching_mm": "touching",
    "pressed_mm": "pressed shut",
    "ten_mm": "ten side by side",
    "grams": "the weight",
    "weighed_mm": "the length weighed",
}


def doubts(cord: Cord) -> list[Finding]:
    """What looks like a slip; also where a measurement stands alone."""
    return [*cord_findings(cord), *_alone(cord)]


def _alone(cord: Cord) -> Iterator[Finding]:
    low, high = USUAL_CORD_MM
    usual = f"check number and unit: most cords measure {low:g} to {high:g} mm"
    width, pressed = cord.flat_width_mm, cord.pressed_mm
    if cord.diameter_mm is None:
        if width is not None and not low <= width <= high:
            yield Finding(
                "width-unusual", f"a flat width of {width:.3g} mm is unusual", usual, "flat_width_mm"
            )
        if pressed is not None and pressed > high:
            yield Finding("pressed-unusual", f"{pressed:g} mm pressed shut is unusual", usual, "pressed_mm")
        if area_is_measured(cord) and not low <= cord_diameter_mm(cord) <= high:
            text = f"{cord.linear_density_g_per_m:.3g} g/m is unusual for a cord"
            remedy = "weigh 10 m and check length and grams"
            yield Finding("density-unusual", text, remedy, "linear_density_g_per_m")
    if pressed is not None and area_is_measured(cord):
        least = strand_area_mm2(cord) / flat_width_mm(cord)
        if pressed < least:
            text = (
                f"pressed shut it measures {pressed:.3g} mm, less than its fibre alone takes ({least:.2f} mm)"
            )
            yield Finding("pressed-thin", text, "check the calipers and the weight", "pressed_mm")


@dataclass(frozen=True, slots=True)
class Doubted:
    """What looks like a slip, the remedy of the first naming the likeliest one.

    put_right : the measurements that would leave nothing to doubt, None where no common slip explains it.
    """

    findings: tuple[Finding, ...]
    put_right: Measured | None = None


def doubted(measured: Measured, material: str, construction: Construction, shown: ShownUnits) -> Doubted:
    """What looks like a slip in what was measured."""
    found = doubts(measured.cord("cord", material, construction))
    if not found:
        return Doubted(())
    tried = []
    for slip, corrected in _corrected(measured):
        cord = corrected.cord("cord", material, construction)
        if not doubts(cord):
            tried.append((_misfit(cord), slip, corrected))
    if not tried:
        return Doubted(tuple(found))
    _, slip, corrected = min(tried, key=lambda one: one[0])
    first = replace(found[0], remedy=_likely(slip, corrected, shown))
    return Doubted((first, *found[1:]), corrected)


def _corrected(measured: Measured) -> Iterator[tuple[_Slip, Measured]]:
    for slip in _SLIPS:
        value = getattr(measured, slip.field)
        if value is not None:
            yield slip, replace(measured, **{slip.field: value * slip.factor})
    if measured.touching_mm is not None and measured.pressed_mm is not None:
        yield (
            _Slip(
                "touching_mm", measured.pressed_mm / measured.touching_mm, "touching and pressed exchanged"
            ),
            replace(measured, touching_mm=measured.pressed_mm, pressed_mm=measured.touching_mm),
        )


def _likely(slip: _Slip, corrected: Measured, shown: ShownUnits) -> str:
    if slip.field == "grams":
        return f"likely {slip.words}: {shown.number(f'{corrected.grams:.0f}')} g"
    if slip.field == "weighed_mm":
        return f"likely {slip.words}: {shown.number(f'{getattr(corrected, slip.field) / 1000:.3g}')} m"
    value = shown.diameter(getattr(corrected, slip.field))
    return f"likely {slip.words}: {NAMES[slip.field]} would be {value}"


def _misfit(cord: Cord) -> float:
    """How far the sizes of a cord are from what each lets expect of the others, as squares of logarithms."""
    found = 0.0
    if cord.diameter_mm is not None:
        found += math.log(flat_width_mm(cord) / flat_width_mm(replace(cord, flat_width_mm=None))) ** 2
        if area_is_measured(cord):
            found += math.log(strand_area_mm2(cord) / float(bare_area_mm2(cord.diameter_mm))) ** 2
    if cord.pressed_mm is not None:
        found += math.log(strand_area_mm2(cord) / (cord.pressed_mm * flat_width_mm(cord)) / PRESSED) ** 2
    return found
