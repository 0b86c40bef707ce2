"""A wanted profile, and the planned one with its interval beside it, in the colours of the page around it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.models.units import MM_PER
from plaitlog.service.reports.page_charts import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Axis, chart, grid, words_at
from plaitlog.service.reports.shown import Shown
from plaitlog.service.reports.svg import element, line, path, title, width_of

HEIGHT: Final = 230.0
KEY: Final = 16.0
"""Height of the line above a plan that says what its strokes mean."""
DASHES: Final = "5 3"
GRIP: Final = 22.0
"""Radius of what a finger takes hold of, in units of the picture (44 across, as much as a touch needs)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedAt:
    """What is expected at one place: mm."""

    at_mm: float
    diameter_mm: float
    low_90_mm: float
    high_90_mm: float


@dataclass(frozen=True, slots=True)
class Grip:
    """A point of the target that can be moved. at_field, size_field : of the form; empty: that stays.
    from_point : the place in its field is counted back from the point."""

    name: str
    at_mm: float
    diameter_mm: float
    at_field: str = ""
    size_field: str = ""
    from_point: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPicture:
    """name : for those who hear it read. wanted : places and diameters in mm, in order. missed : stretches in
    mm that are off the target. readings : place and diameter, mm. point_mm : where the thong ends."""

    name: str
    shown: Shown
    point_mm: float
    wanted: Sequence[tuple[float, float]]
    planned: Sequence[PlannedAt] = ()
    missed: Sequence[tuple[float, float]] = ()
    readings: Sequence[tuple[float, float]] = ()
    grips: Sequence[Grip] = ()


def plan_chart(picture: PlanPicture) -> str:
    """The picture as SVG. With grips it says in data attributes where a place and a diameter lie on it."""
    across_unit, up_unit = _along(picture.shown), float(MM_PER[picture.shown.diameters])
    thickest = max(
        [mm for _, mm in picture.wanted]
        + [one.high_90_mm for one in picture.planned]
        + [mm for _, mm in picture.readings]
        + [1.0]
    )
    across = Axis(0.0, picture.point_mm / across_unit, LEFT, WIDTH - RIGHT)
    up = Axis(0.0, thickest * 1.08 / up_unit, HEIGHT - BOTTOM, TOP + (KEY if picture.planned else 0.0))

    def x(mm: float) -> float:
        return across.at(mm / across_unit)

    def y(mm: float) -> float:
        return up.at(mm / up_unit)

    unit = "in" if picture.shown.lengths == "ft" else picture.shown.lengths
    marks = [*grid(across, up, f"from the handle end, {unit}", f"diameter, {picture.shown.diameters}")]
    for start, end in picture.missed:
        wide = max(x(end) - x(start), 2.0)
        marks.append(element("rect", x=x(start), y=HEIGHT - BOTTOM - 5, width=wide, height=5, class_="new"))
    if picture.planned:
        low = [(x(one.at_mm), y(one.low_90_mm)) for one in picture.planned]
        high = [(x(one.at_mm), y(one.high_90_mm)) for one in picture.planned]
        marks.append(path([*low, *reversed(high)], closed=True, class_="chance"))
        middle = [(x(one.at_mm), y(one.diameter_mm)) for one in picture.planned]
        marks.append(path(middle, fill="none", stroke_width=1.8, class_="planned"))
    wanted = [(x(at), y(mm)) for at, mm in picture.wanted]
    dashes = DASHES if picture.planned else "none"
    marks.append(path(wanted, fill="none", stroke_width=1.6, class_="target", stroke_dasharray=dashes))
    marks += [_reading(x(at), y(mm), picture.shown, at, mm) for at, mm in picture.readings]
    marks += [_grip(one, x(one.at_mm), y(one.diameter_mm), picture.shown) for one in picture.grips]
    if picture.planned:
        marks += _key(bool(picture.missed), bool(picture.readings))
    drawn = chart(picture.name, HEIGHT, *marks)
    if not picture.grips:
        return drawn
    said = " ".join(
        f'data-{name}="{value:.6g}"'
        for name, value in (
            ("left", across.start), ("right", across.end), ("long", across.high), ("bottom", up.start),
            ("top", up.end), ("thick", up.high),
        )
    )  # fmt: skip
    # Whoever moves a point with the keyboard meets a group of points, not one picture.
    return drawn.replace('role="img"', f'role="group" {said}', 1)


def _along(shown: Shown) -> float:
    return float(MM_PER["in" if shown.lengths == "ft" else shown.lengths])


def _reading(x: float, y: float, shown: Shown, at_mm: float, mm: float) -> str:
    said = f"measured {shown.diameter(mm)} at {shown.length(at_mm)}"
    return element("g", title(said), element("circle", cx=x, cy=y, r=3, class_="in"))


def _grip(one: Grip, x: float, y: float, shown: Shown) -> str:
    said = f"{shown.diameter(one.diameter_mm)} at {shown.length(one.at_mm)}"
    return element(
        "g",
        title(f"{one.name}: {said}"),
        element("circle", cx=x, cy=y, r=GRIP, class_="reach"),
        element("circle", cx=x, cy=y, r=6, class_="knob"),
        class_="grip",
        data_at=one.at_field,
        data_size=one.size_field,
        data_name=one.name,
        data_back="yes" if one.from_point else "",
    )


def _key(missed: bool, read: bool) -> list[str]:
    """What the strokes mean, in a line above the picture."""
    found: list[str] = []
    x, y = 6.0, TOP - 4

    def entry(mark: str, words: str) -> None:
        nonlocal x
        found.extend((mark, words_at(x + 24, y + 4, words, "small")))
        x += 24 + width_of(words, 11.0) + 9

    for words, kind, dashes in (("wanted", "target", DASHES), ("planned, 90 %", "planned", "none")):
        entry(line(x, y, x + 20, y, class_=kind, stroke_width=1.7, stroke_dasharray=dashes), words)
    if missed:
        entry(element("rect", x=x, y=y - 2.5, width=20, height=5, class_="new"), "off target")
    if read:
        entry(element("circle", cx=x + 10, cy=y, r=3, class_="in"), "measured")
    return found
