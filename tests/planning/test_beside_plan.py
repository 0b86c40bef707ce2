"""A whip beside its plan: what differs is named, and each part is that of the one thing that was changed."""

from dataclasses import replace
from typing import Any

import pytest

from plaitlog.models.whip import Reading, Weight, Whip
from plaitlog.service.usecases.planning.beside_plan import BesideLine, beside_plan
from plaitlog.service.usecases.planning.beside_words import cells, layers_otherwise, summary, whole
from plaitlog.service.usecases.planning.keeping import kept_document
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.planning.drawn_plans import CORDS, IN_FORCE, STOCK, finished, laid

MM = ShownUnits("mm", "mm")
PLANNED = replace(STOCK, layers_complete=True)
KEPT = kept_document(IN_FORCE, PLANNED, CORDS, plan=finished(PLANNED), spec={"label": "x"})
PLACES = (100.0, 250.0, 800.0, 1250.0, 1600.0)


def planned_at(at_mm: float, after_layer: int | None = None) -> dict[str, Any]:
    over = [x for x in KEPT["stations"] if x.get("after_layer") == after_layer and x["at_mm"] <= at_mm]
    found: dict[str, Any] = over[-1]
    return found


def as_planned(after_layer: int | None = None, thicker: float = 1.0, **noted: Any) -> tuple[Reading, ...]:
    return tuple(
        Reading(
            at_mm=at,
            diameter_mm=planned_at(at, after_layer)["diameter_mm"] * thicker,
            after_layer=after_layer,
            **noted,
        )
        for at in PLACES
        if after_layer is None or at < 900
    )


def lines(whip: Whip) -> tuple[BesideLine, ...]:
    found = beside_plan(IN_FORCE, replace(whip, plan=KEPT), CORDS)
    assert found is not None
    for line in found.lines:
        assert sum(line.parts_mm.values()) == pytest.approx(line.off_mm, abs=1e-9)
    return found.lines


def test_a_whip_made_as_planned_differs_in_nothing() -> None:
    found = lines(replace(PLANNED, readings=as_planned()))
    assert [line.at_mm for line in found] == list(PLACES)
    for line in found:
        assert line.inside
        assert {reason: round(mm, 2) for reason, mm in line.parts_mm.items()} == {
            "fit": 0, "condition": 0, "strands": 0, "inner": 0, "rest": 0,
        }  # fmt: skip
        wanted = ((18**2) + (6**2 - 18**2) * line.at_mm / 1680) ** 0.5
        assert line.target_mm == pytest.approx(wanted, abs=0.1)


def test_strands_that_run_on_further_than_planned_explain_what_they_add() -> None:
    further = laid("overlay", "Beck 2.5 mm", {0: 18, 530: 16, 1290: 14, 1310: 12, 1330: 10, 1350: 8, 1370: 6})
    made = replace(PLANNED, layers=(*PLANNED.layers[:2], further), readings=as_planned())
    strands = {line.at_mm: line.parts_mm["strands"] for line in lines(made)}
    assert strands[100] == strands[250] == 0
    assert strands[1250] > 1
    kept = replace(made, plan=KEPT)
    told = beside_plan(IN_FORCE, kept, CORDS)
    assert told is not None
    words = list(layers_otherwise(told, kept, MM))
    assert [line.split()[:3] for line in words] == [["layer", "3", "planned"], ["recorded", "as", "overlay:"]]


def test_a_thick_belly_explains_a_thick_whip() -> None:
    belly = as_planned(2, thicker=1.12)
    made = replace(PLANNED, readings=(*belly, *as_planned(thicker=1.08)))
    for line in lines(made):
        if line.after_layer is None:
            assert line.parts_mm["inner"] > 0.5 * line.off_mm > 0
        else:
            assert line.parts_mm["inner"] == 0
            assert line.parts_mm["rest"] == pytest.approx(line.off_mm, abs=0.02)


def test_without_a_plan_or_with_cords_that_are_gone_no_more_is_said_than_is_known() -> None:
    assert beside_plan(IN_FORCE, PLANNED, CORDS) is None
    made = replace(PLANNED, plan=KEPT, readings=as_planned())
    told = beside_plan(IN_FORCE, made, {"Ridge 4 mm": CORDS["Ridge 4 mm"]})
    assert told is not None
    assert [line.parts_mm for line in told.lines] == [{}] * len(PLACES)
    assert all(line.inside for line in told.lines)


def test_the_words_lead_with_how_many_came_out_as_planned() -> None:
    made = replace(
        PLANNED,
        plan=KEPT,
        readings=(*as_planned(thicker=1.5), Reading(at_mm=400.0, diameter_mm=30.0, doubtful=True)),
        weights=(Weight(400.0, "none"),),
    )
    told = beside_plan(IN_FORCE, made, CORDS)
    assert told is not None
    first, second, third = summary(told, MM)
    assert first == "Beside its plan (no fit is stored: this rests on geometry and common sense alone):"
    mean = sum(0.5 * planned_at(at)["diameter_mm"] for at in PLACES) / len(PLACES)
    assert second.split(";")[1] == f" on average {mean:.1f} mm thicker"
    assert second.split()[:3] == ["0", "of", "5"]
    assert third == f"  of which on average the rest +{mean:.1f}"
    weight, *_ = whole(told, made, MM)
    assert weight.startswith(f"  weighs 400 g (bare); planned {KEPT['weight_g']:.0f} g without fall")


def test_numbers_with_a_decimal_comma_are_told_like_others() -> None:
    made = replace(PLANNED, plan=KEPT, readings=as_planned(thicker=1.1))
    told = beside_plan(IN_FORCE, made, CORDS)
    assert told is not None
    points = [cells(line, MM) for line in told.lines]
    commas = [cells(line, replace(MM, decimal_comma=True)) for line in told.lines]
    assert [[cell.replace(",", ".") for cell in row] for row in commas] == [
        [cell.replace(",", ".") for cell in row] for row in points
    ]
    assert all("+" in row[5] and "," in row[5] for row in commas)
