"""The wanted profile beside the form of a plan: its picture with points to move, and the same in numbers."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from plaitlog.models.errors import PlaitlogError, UnitError
from plaitlog.models.units import parse_diameter, parse_length
from plaitlog.service.pages.planning.form import Asked, asked_in, place_unit
from plaitlog.service.pages.refusals import findings_of
from plaitlog.service.reports.plan_chart import Grip, PlanPicture, plan_chart
from plaitlog.service.usecases.planning.wanted_profile import WantedProfile, wanted_profile
from plaitlog.service.usecases.shown_units import ShownUnits

ROWS = 12
NOTHING: dict[str, Any] = {
    "wanted_picture": None,
    "wanted_words": None,
    "wanted_rows": [],
    "movable": False,
}


def wanted_data(session: Session, typed: Mapping[str, str], shown: ShownUnits) -> dict[str, Any]:
    """Picture and rows; where the form does not say yet what is wanted, what it lacks."""
    asked = asked_in(typed, shown)
    lacks = [one.text and f"{one.text}; {one.remedy}" for one in asked.wrong.values()]
    if not lacks:
        try:
            profile = wanted_profile(session, asked.data)
        except PlaitlogError as error:
            lacks = [str(one) for one in findings_of(error)]
        else:
            return {**_drawn(profile, typed, asked, shown), "lacks": []}
    return {**NOTHING, "lacks": lacks}


def _drawn(
    profile: WantedProfile, typed: Mapping[str, str], asked: Asked, shown: ShownUnits
) -> dict[str, Any]:
    points = list(zip(profile.at_mm, profile.diameter_mm, strict=True))
    thick, point = points[0][1], points[-1][1]
    words = [f"{shown.diameter(thick)} at the thick end"]
    if profile.held_to_mm > 0:
        words.append(f"no drop before {shown.length(profile.held_to_mm)}")
    if profile.held_from_mm < profile.thong_mm:
        words.append(f"none behind {shown.length(profile.held_from_mm)}")
    words.append(f"{shown.diameter(point)} at the point, {shown.long_length(profile.thong_mm)} on")
    step = max(len(points) // ROWS, 1)
    rows = [*points[:-1:step], points[-1]]
    grips = _grips(profile, typed, asked, shown)
    picture = PlanPicture(
        name=f"Wanted diameters: {', '.join(words)}",
        shown=shown,
        point_mm=profile.thong_mm,
        wanted=points,
        grips=grips,
    )
    return {
        "wanted_picture": plan_chart(picture),
        "wanted_words": ", ".join(words),
        "movable": bool(grips),
        "wanted_rows": [{"at": shown.length(at), "at_mm": at, "size": shown.diameter(mm)} for at, mm in rows],
    }


def _grips(profile: WantedProfile, typed: Mapping[str, str], asked: Asked, shown: ShownUnits) -> list[Grip]:
    """The points that fields of the form say; none where places are not counted from the handle end."""
    if typed.get("datum") == "butt":
        return []
    way = typed.get("way", "shape")
    if way == "shape":
        return _of_shape(profile, typed, shown)
    if way != "stations":
        return []
    found = []
    pairs = asked.data.get("target", {}).get("stations", [])
    for row, (place, size) in zip(asked.stations, pairs, strict=True):
        try:
            at, mm = parse_length(place), parse_diameter(size)
        except UnitError:
            continue
        found.append(Grip(f"place {row}", at, mm, f"at{row}", f"size{row}"))
    return found


def _of_shape(profile: WantedProfile, typed: Mapping[str, str], shown: ShownUnits) -> list[Grip]:
    def held(key: str, otherwise: float) -> float:
        try:
            return parse_length(typed.get(key, ""), unit=place_unit(shown))
        except UnitError:
            return otherwise

    thick, point = profile.diameter_mm[0], profile.diameter_mm[-1]
    to = held("parallel_thick", profile.held_to_mm)
    back = held("parallel_point", profile.thong_mm - profile.held_from_mm)
    return [
        Grip("thick end", to, thick, "parallel_thick", "thick_end"),
        Grip("point", profile.thong_mm - back, point, "parallel_point", "point", from_point=True),
    ]
