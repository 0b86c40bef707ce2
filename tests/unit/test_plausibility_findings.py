"""What is taken with a finding: what a hand would hardly do, and what looks like a slip of the pen."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from plaitlog.models.notation import parse_readings, parse_schedule
from plaitlog.models.plausibility import check_cord
from plaitlog.models.whip import (
    Layer,
    LayerCord,
    RatingSession,
    Reading,
    TurnLength,
    Weight,
    Whip,
)
from tests.unit.sample_whip import RIDGE, WHIP, findings, layer, plain


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        (
            {"diameter_mm": 0.5, "pressed_mm": None, "flat_width_mm": None, "linear_density_g_per_m": None},
            "cord-unusual",
        ),
        ({"diameter_mm": 15.0, "flat_width_mm": 16, "linear_density_g_per_m": 100}, "cord-unusual"),
        ({"pressed_mm": 4.1}, "pressed-thicker"),
        ({"flat_width_mm": 44.0}, "width-unusual"),
        ({"linear_density_g_per_m": 72.0}, "density-unusual"),
        ({"linear_density_g_per_m": 0.72}, "density-unusual"),
        ({"diameter_mm": 2.0, "pressed_mm": 1.5, "flat_width_mm": 2.0}, "density-unusual"),
    ],
)
def test_what_looks_like_a_slip_in_a_cord(changes: dict[str, Any], code: str) -> None:
    assert [finding.code for finding in check_cord(replace(RIDGE, **changes))] == [code]


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (plain("overlay", (0, 16), (500, 15), (520, 14)), []),
        (plain("overlay", (0, 16), (500, 15), (900, 14)), [("layers 1, strands 2", "odd-count")]),
        (plain("overlay", (0, 16), (500, 15)), [("layers 1, strands 2", "odd-count")]),
        (plain("core", (0, 13), (500, 12)), []),
        (plain("belly", (0, 12), (500, 14)), [("layers 1, strands 2", "rising-count")]),
        (plain("belly", (0, 16), (500, 6)), [("layers 1, strands 2", "jump")]),
        (
            plain("belly", (0, 60), (500, 58)),
            [("layers 1, strands 1", "count-unusual"), ("layers 1, strands 2", "count-unusual")],
        ),
        (plain("belly", (0, 12), (1900, 10)), [("layers 1, strands 2", "step-past-point")]),
        (plain("overlay", (0, 12), (1600, 0)), [("layers 1, strands 2", "overlay-short")]),
        (plain("overlay", (0, 12), (1830, 0)), []),
        (layer("overlay", "mm: 16A u2o2u2o2; p"), []),
        (layer("overlay", "mm: 16A u3o3; p"), [("layers 1, strands 1", "pattern-sum")]),
        (layer("overlay", "mm: 12..16A u3o3; p"), []),
        (layer("overlay", "mm: 8A+8B u4o4; p"), []),
        (layer("overlay", "mm: 16A u2o2u2o2; 500: -2 u3o3; p"), [("layers 1, strands 2", "pattern-sum")]),
        (Layer(role="belly"), [("layers 1", "layer-bare")]),
        (replace(plain("belly", (0, 12)), cords=()), [("layers 1, cord", "cord-missing")]),
        (
            replace(
                layer("overlay", "mm: 8A+8B; p"), cords=(LayerCord("Ridge 4 mm"), LayerCord("Ridge 4 mm"))
            ),
            [("layers 1, cords", "cord-twice")],
        ),
    ],
)
def test_what_a_hand_would_hardly_do_is_taken_with_a_finding(
    made: Layer, expected: list[tuple[str, str]]
) -> None:
    assert findings(replace(WHIP, layers=(made,), readings=(), turn_lengths=())) == expected


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"thong_length_mm": 18300}, ("thong_length_mm", "length-unusual")),
        ({"handle_diameter_mm": 60}, ("handle_diameter_mm", "handle-unusual")),
        ({"weights": (Weight(4120),)}, ("weights 1", "weight-unusual")),
        ({"turn_lengths": (TurnLength(300, 620),)}, ("turn_lengths 1", "turn-unusual")),
        ({"status": "planned"}, ("status", "planned-measured")),
        ({"readings": (Reading(at_mm=0, diameter_mm=80),)}, ("readings 1", "reading-unusual")),
        ({"readings": (Reading(at_mm=890, diameter_mm=12),)}, ("readings 1", "near-drop")),
        ({"readings": (Reading(at_mm=320, diameter_mm=12, after_layer=1),)}, None),
        ({"readings": (Reading(at_mm=319, diameter_mm=12, after_layer=1),)}, ("readings 1", "near-drop")),
        ({"readings": (Reading(at_mm=880, diameter_mm=12),)}, None),
        ({"readings": (Reading(at_mm=690, diameter_mm=12, after_layer=1),)}, ("readings 1", "near-drop")),
        (
            {"readings": (Reading(at_mm=0, diameter_mm=12), Reading(at_mm=1600, diameter_mm=14))},
            ("readings", "taper-reversed"),
        ),
        (
            {"readings": (Reading(at_mm=0, diameter_mm=14), Reading(at_mm=0, diameter_mm=19))},
            ("readings 2", "repeats-differ"),
        ),
        (
            {"readings": (Reading(at_mm=0, diameter_mm=14, after_layer=1), Reading(at_mm=0, diameter_mm=19))},
            None,
        ),
        ({"ratings": (RatingSession(on=dt.date(2026, 3, 1)),)}, ("ratings 1, on", "rated-early")),
    ],
)
def test_what_looks_mistyped_is_taken_with_a_finding(
    changes: dict[str, Any], expected: tuple[str, str] | None
) -> None:
    assert findings(replace(WHIP, **changes)) == ([expected] if expected else [])


def test_a_test_plait_is_short() -> None:
    plait = Whip(label="T1", type="test plait", thong_length_mm=200, layers=(plain("overlay", (0, 16)),))
    assert findings(plait) == []


def test_a_notebook_page_full_of_holes_passes() -> None:
    readings = parse_readings("in mm: thick 18,5; mid 13; p 7,2", start_mm=None).readings
    belly = parse_schedule("in: 12; ~20: -2; ?: -2; 28..34: end")
    whip = Whip(label="old", layers=(Layer(role="belly", schedule=belly.schedule),), readings=readings)
    assert [code for _, code in findings(whip)] == ["cord-missing"]
