"""The parts of the page of one whip, each as plain data."""

from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.errors import PlaitlogError, StackNotKnownError
from plaitlog.models.units import MM_PER, show_mass
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.pages.refusals import told
from plaitlog.service.pages.rendering import moment, path_of
from plaitlog.service.reports.page_drawing import page_drawing
from plaitlog.service.reports.page_fills import legend
from plaitlog.service.usecases.changes.history import changes_of, touching_others
from plaitlog.service.usecases.handling.parameters import shape_of
from plaitlog.service.usecases.handling.taper_words import sentences
from plaitlog.service.usecases.kept_plans import wanted_along
from plaitlog.service.usecases.missing.usability import usability
from plaitlog.service.usecases.missing.what_is_missing import what_is_missing
from plaitlog.service.usecases.photos.keeping import photos
from plaitlog.service.usecases.pictures.drawing import drawn
from plaitlog.service.usecases.pictures.stations import nearest, stretches
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.planning import beside_words
from plaitlog.service.usecases.planning.beside_plan import beside_plan
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.predicting_stacks import cover_text, like_findings, like_whip
from plaitlog.service.usecases.reviewing import place_in_table, review
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.weighing import Expected, expected_or_none, far_off
from plaitlog.service.usecases.whip_facts import rating_parts, weight_words

Cords = Mapping[str, Cord]
STEPS: Final = {"in": 0.5, "ft": 1 / 24, "mm": 10.0, "cm": 1.0, "m": 0.01}
"""How far the station moves with one press of an arrow key, in the unit that lengths are shown in."""


def drawn_whip(in_force: InForce, whip: Whip, cords: Cords, shown: ShownUnits) -> dict[str, Any]:
    """The drawing with its legend and its stations; why there is none, where nothing can be drawn."""
    try:
        drawing = drawn(in_force, whip, cords, shown, without_stack=True)
    except StackNotKnownError as error:
        return {"picture": "", "why": error.finding.text}
    wanted = wanted_along(whip.plan)
    said = {"no reading is recorded", *(finding.text for finding in in_force.findings)}
    return {
        "picture": page_drawing(drawing, wanted),
        "why": "",
        "print": any(not section.reason for section in drawing.sections),
        "legend": [list(pair) for pair in legend(drawing, wanted=bool(wanted))],
        "lengths": drawing.lengths,
        "layers": [{"place": x.place, "role": x.role, "made_of": x.made_of} for x in drawing.layers],
        "stations": stretches(drawing),
        "nearest": nearest(drawing),
        # What is said of the fit stands at the top of the page, and readings have a place of their own.
        "remarks": [one for one in drawing.remarks if one not in said],
        "unit": shown.lengths,
        "mm_per_unit": float(MM_PER[shown.lengths]),
        "step": STEPS[shown.lengths],
    }


def read_beside_expected(in_force: InForce, whip: Whip, cords: Cords, shown: ShownUnits) -> dict[str, Any]:
    """Every reading beside what is expected there, and what looks like a slip."""
    reviewed = review(in_force, whip, cords)
    fit = {finding.code for finding in in_force.findings}
    return {
        "rows": [
            {"cells": list(line.cells(shown)), "far": line.far, "condition": line.reading.condition or ""}
            for line in sorted(reviewed.lines, key=place_in_table)
        ],
        "findings": [told(one) for one in reviewed.findings if one.code not in fit | {"far-from-prediction"}],
    }


def usable_for(in_force: InForce, whip: Whip, cords: Cords, shown: ShownUnits) -> dict[str, Any]:
    """What the record can be used for, and why not for more."""
    usable = usability(in_force, whip, cords)
    return {"line": usable.line(), "reasons": usable.reasons(shown)}


def more_of(in_force: InForce, whip: Whip, cords: Cords, shown: ShownUnits) -> dict[str, Any]:
    """What takes longer than all the rest: what one more fact would buy, weight and balance, the taper."""
    missing = what_is_missing(in_force, whip, cords)
    expected = expected_or_none(in_force, whip, cords)
    return {
        "worth": [one.words(shown) for one in missing.worth],
        "rest": missing.rest_line(shown) if missing.rest else "",
        "weighed": [] if expected is None else _weight_lines(expected, whip, shown),
        "taper": list(sentences(shape_of(in_force, whip, cords), shown)),
    }


def _weight_lines(found: Expected, whip: Whip | None, shown: ShownUnits) -> list[list[str]]:
    """Rows of what, expected, 90 %, noted."""
    weight = found.weight
    spread = f"{show_mass(weight.low_90)} to {show_mass(weight.high_90)}"
    rows = [["thong and handle", show_mass(weight.value), spread, ""]]
    for noted, what in found.noted:
        wrong = far_off(noted, what)
        said = weight_words(noted) + (f": {wrong.remedy}" if wrong else "")
        spread = f"{show_mass(what.low_90)} to {show_mass(what.high_90)}"
        rows.append(["as weighed", show_mass(what.value), spread, said])
    if found.balance is not None:
        low, high = shown.length(found.balance.low_90), shown.length(found.balance.high_90)
        balance = None if whip is None else whip.balance
        said = "" if balance is None else f"{shown.length(balance.at_mm)} from the {balance.counted_from}"
        place = shown.length(found.balance.value)
        rows.append(["balance, from the butt", place, f"{low} to {high}", said])
    used = {} if whip is None else {use.cord: use.metres for use in whip.cord_used}
    for cord, use in found.cord_use.items():
        metres = shown.number(f"{use.value:.1f} m")
        spread = shown.number(f"{use.low_90:.1f} to {use.high_90:.1f} m")
        rows.append([cord, metres, spread, f"{used[cord]:g} m" if cord in used else ""])
    return rows


def rated(whip: Whip) -> list[dict[str, Any]]:
    """Every rating session, the latest first."""
    return [rating_parts(rating) for rating in reversed(whip.ratings)]


def beside_its_plan(in_force: InForce, whip: Whip, cords: Cords, shown: ShownUnits) -> dict[str, Any] | None:
    """The whip beside the plan it was made from; None where no plan is kept with it."""
    found = beside_plan(in_force, whip, cords)
    if found is None:
        return None
    return {
        "heads": list(beside_words.HEADS),
        "summary": [line.strip() for line in list(beside_words.summary(found, shown))[1:]],
        "rests_on": found.kept.rests_on or "",
        "sheet": found.kept.spec is not None,
        "rows": [list(beside_words.cells(line, shown)) for line in found.lines],
        "whole": [line.strip() for line in beside_words.whole(found, whip, shown)],
        "otherwise": [line.strip() for line in beside_words.layers_otherwise(found, whip, shown)],
    }


def in_other_cord(
    in_force: InForce, whip: Whip, cords: Cords, shown: ShownUnits, other: str, instead: str
) -> dict[str, Any]:
    """The same whip in another cord, station by station; without ``other`` only what may be chosen."""
    inside = list(dict.fromkeys(cord.cord for layer in whip.layers for cord in layer.cords))
    instead = instead if instead in inside else next(iter(inside), "")
    data: dict[str, Any] = {
        "inside": inside,
        "cords": [name for name in cords if name != instead or len(inside) > 1],
        "other": other,
        "instead": instead,
        "rows": [],
        "weight": [],
        "findings": [],
        "error": None,
    }
    if not other or not inside:
        return data
    try:
        found = like_whip(in_force, placed(whip), cords, {instead: other})
    except PlaitlogError as error:
        return {**data, "error": told(error.finding)}
    rows = [
        [
            shown.length(line.at_mm),
            " / ".join(shown.diameter_number(one.size_mm) for one in line.measured),
            shown.diameter_number(line.as_was.diameter_mm),
            shown.diameter(line.swapped.diameter_mm),
            shown.interval(line.swapped.low_90_mm, line.swapped.high_90_mm),
            f"{100 * (line.swapped.diameter_mm / line.as_was.diameter_mm - 1):+.0f} %",
            cover_text(line.swapped),
        ]
        for line in found.stations
    ]
    remarks = [one for one in like_findings(found) if not one.code.startswith("cover-")]
    weight = [] if found.weighing is None else _weight_lines(found.weighing, None, shown)
    return {**data, "rows": rows, "weight": weight, "findings": [told(one) for one in remarks]}


def latest_changes(session: Session, label: str) -> list[dict[str, Any]]:
    """The history of this whip, the latest first; what touched more than it is not taken back from here."""
    found = changes_of(session, "whip", label)
    wider = touching_others(session, [one.number for one in found], label)
    return [
        {
            "number": one.number,
            "when": moment(one.created_at),
            "action": one.action,
            "of": one.of,
            "words": [entry.words for entry in one.entries],
            "undone": one.undone,
            "undoable": one.undoable and one.of is None and one.number not in wider,
        }
        for one in found
    ]


def photos_of(session: Session, label: str) -> list[dict[str, Any]]:
    """The photos of a whip in the order of entry, each with the addresses of its pictures."""
    return [
        {
            "number": one.number,
            "version": one.version,
            "caption": one.caption or "",
            "width": one.width,
            "height": one.height,
            "small": f"/photos/{one.number}/small",
            "whole": f"/photos/{one.number}/whole",
            "whip": path_of("whips", label),
        }
        for one in photos(session, label)
    ]
