"""What is refused in a record: all of it at once, each with its place and remedy."""

import datetime as dt
import math
from dataclasses import replace
from typing import Any

import pytest

from plaitlog.models.errors import RecordError
from plaitlog.models.plausibility import check_cord, check_rating, check_whip
from plaitlog.models.whip import (
    Balance,
    CordUse,
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    RatingSession,
    Reading,
    Span,
    Step,
    StrandSchedule,
    TurnLength,
    Weight,
    Whip,
    exactly,
)
from tests.unit.sample_whip import CORDS, RIDGE, TODAY, WHIP, findings, plain, refusals


def test_a_sound_whip_and_cord_pass_without_a_word() -> None:
    assert check_whip(WHIP, CORDS, today=TODAY) == ()
    assert check_cord(RIDGE) == ()
    assert check_whip(Whip(label="1")) == ()


@pytest.mark.parametrize("value", [math.nan, math.inf, -1.0, 0.0, 1e9])
@pytest.mark.parametrize(
    "field",
    ["diameter_mm", "pressed_mm", "flat_width_mm", "linear_density_g_per_m", "fibre_density_g_per_cm3"],
)
def test_impossible_sizes_of_a_cord_are_refused(field: str, value: float) -> None:
    changes: dict[str, Any] = {field: value}
    with pytest.raises(RecordError) as caught:
        check_cord(replace(RIDGE, **changes))
    assert [finding.where for finding in caught.value.findings] == [field]


def test_a_cord_without_a_name_is_refused() -> None:
    with pytest.raises(RecordError, match="no name"):
        check_cord(replace(RIDGE, name=" "))


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"label": ""}, [("label", "label-missing")]),
        ({"made_on": dt.date(2026, 11, 26)}, [("made_on", "date-future")]),
        ({"handle_length_mm": -1}, [("handle_length_mm", "not-a-size")]),
        ({"handle_diameter_mm": 201}, [("handle_diameter_mm", "absurd")]),
        ({"foundation": Foundation(diameter_mm=0)}, [("foundation, diameter_mm", "not-a-size")]),
        ({"hours": -1}, [("hours", "not-a-size")]),
        ({"cord_used": (CordUse("Ridge 4 mm", 0),)}, [("cord_used 1, metres", "not-a-size")]),
        ({"cord_used": (CordUse("Ridg 4 mm", 3),)}, [("cord_used 1", "cord-unknown")]),
        ({"weights": (Weight(-3),)}, [("weights 1, weight_g", "not-a-size")]),
        ({"weights": (Weight(300, None, 9),)}, [("weights 1, after_layer", "layer-unknown")]),
        ({"balance": Balance(math.nan)}, [("balance, at_mm", "not-finite")]),
        ({"turn_lengths": (TurnLength(300, 0),)}, [("turn_lengths 1, turn_mm", "not-a-size")]),
        ({"turn_lengths": (TurnLength(1900, 60),)}, [("turn_lengths 1, at_mm", "past-point")]),
        ({"turn_lengths": (TurnLength(900, 60, 1),)}, [("turn_lengths 1, after_layer", "layer-absent")]),
        ({"thong_length_mm": 0, "readings": (), "turn_lengths": ()}, [("thong_length_mm", "not-a-size")] * 1),
    ],
)
def test_what_is_refused_of_a_whip(changes: dict[str, Any], expected: list[tuple[str, str]]) -> None:
    found = refusals(replace(WHIP, **changes))
    assert found[: len(expected)] == expected


@pytest.mark.parametrize(
    ("bad", "expected"),
    [
        (plain("belly", (0, 12), (500, 10), (400, 8)), [("layers 1, strands 3", "steps-unordered")]),
        (plain("belly", (0, 12), (500, 10), (500, 8)), [("layers 1, strands 3", "steps-unordered")]),
        (plain("belly", (0, 12), (500, -2)), [("layers 1, strands 2", "count")]),
        (plain("belly", (0, 12), (500, math.nan)), [("layers 1, strands 2", "count")]),
        (plain("belly", (0, 12), (math.inf, 10)), [("layers 1, strands 2", "place")]),
        (plain("belly", (-5, 12)), [("layers 1, strands 1", "place")]),
        (plain("belly", (1900, 12)), [("layers 1, strands 1", "past-point")]),
        (plain("belly"), [("layers 1, strands", "steps-missing")]),
        (
            replace(plain("belly", (0, 12)), cords=(LayerCord("Ridge 4 mm"), LayerCord("Fell 3 mm"))),
            [("layers 1, strands 1", "counts-cords")],
        ),
        (
            replace(plain("belly", (0, 12)), cords=(LayerCord("Ridge 4 mm", 0),)),
            [("layers 1, cords 1, share", "not-a-size")],
        ),
        (
            replace(plain("belly", (0, 12)), cords=(LayerCord("Fel 3 mm"),)),
            [("layers 1, cord", "cord-unknown")],
        ),
        (
            replace(plain("belly", (0, 12)), diameter_mm=9.0),
            [("layers 1, diameter_mm", "size-plaited"), ("layers 1, strands", "size-and-strands")],
        ),
        (Layer(role="core", diameter_mm=9, thickness_mm=2), [("layers 1, thickness_mm", "size-twice")]),
        (Layer(role="core", diameter_mm=-9), [("layers 1, diameter_mm", "not-a-size")]),
        (
            Layer(role="binding", thickness_mm=1, from_mm=500, to_mm=400),
            [("layers 1, from_mm", "from-after-to")],
        ),
        (Layer(role="binding", thickness_mm=1, from_mm=1900), [("layers 1, from_mm", "past-point")]),
        (replace(plain("belly", (0, 12)), fate=Fate("tuck", -3)), [("layers 1, fate", "not-a-size")]),
        (
            replace(plain("belly", (0, 12)), fate=Fate("run", until_mm=math.nan)),
            [("layers 1, fate", "not-finite")],
        ),
        (
            Layer(
                role="belly",
                cords=(LayerCord("Ridge 4 mm"),),
                schedule=StrandSchedule((Step(Place(0, 0), (Span(16, 12),)),)),
            ),
            [("layers 1, strands 1", "count")],
        ),
        (
            Layer(
                role="belly",
                cords=(LayerCord("Ridge 4 mm"),),
                schedule=StrandSchedule((Step(Place(0, 0), (exactly(12),), pattern="over 3"),)),
            ),
            [("layers 1, strands 1", "pattern")],
        ),
    ],
)
def test_what_is_refused_of_a_layer(bad: Layer, expected: list[tuple[str, str]]) -> None:
    assert refusals(replace(WHIP, layers=(bad,), readings=(), turn_lengths=())) == expected


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (Reading(at_mm=1831, diameter_mm=6), ("readings 1, at_mm", "past-point")),
        (Reading(at_mm=-1, diameter_mm=6), ("readings 1, at_mm", "not-a-size")),
        (Reading(at_mm=math.nan, diameter_mm=6), ("readings 1, at_mm", "not-finite")),
        (Reading(at_mm=0, diameter_mm=-4.0), ("readings 1, diameter_mm", "not-a-size")),
        (Reading(at_mm=0, diameter_mm=0), ("readings 1, diameter_mm", "not-a-size")),
        (Reading(at_mm=0, diameter_mm=250), ("readings 1, diameter_mm", "absurd")),
        (Reading(at_mm=0, girth_mm=700), ("readings 1, girth_mm", "absurd")),
        (Reading(at_mm=0, girth_mm=3, tape_mm=1), ("readings 1, tape_mm", "girth-small")),
        (Reading(at_mm=0, girth_mm=30, tape_mm=-1), ("readings 1, tape_mm", "not-a-size")),
        (Reading(at_mm=0), ("readings 1", "size-missing")),
        (Reading(at_mm=0, diameter_mm=3, girth_mm=3), ("readings 1", "size-twice")),
        (Reading(at_mm=None, diameter_mm=3), ("readings 1", "place-missing")),
        (Reading(at_mm=0, diameter_mm=9, after_layer=5), ("readings 1, after_layer", "layer-unknown")),
        (Reading(at_mm=0, diameter_mm=9, after_layer=0), ("readings 1, after_layer", "layer-unknown")),
        (Reading(at_mm=700, diameter_mm=9, after_layer=1), ("readings 1, after_layer", "layer-absent")),
        (Reading(at_mm=1300, diameter_mm=9, after_layer=3), ("readings 1, after_layer", "layer-absent")),
        (Reading(at_mm=0, diameter_mm=9, on=dt.date(2027, 1, 1)), ("readings 1, on", "date-future")),
    ],
)
def test_what_is_refused_of_a_reading(reading: Reading, expected: tuple[str, str]) -> None:
    assert refusals(replace(WHIP, readings=(reading,))) == [expected]


def test_a_reading_on_a_layer_of_which_nothing_is_known_is_taken() -> None:
    whip = Whip(
        label="old", layers=(Layer(role="belly"),), readings=(Reading(at_mm=5, diameter_mm=9, after_layer=1),)
    )
    assert [code for _, code in findings(whip)] == ["layer-bare"]


@pytest.mark.parametrize(
    ("session", "where"),
    [
        (RatingSession(scores={"ease": 11}), "scores, ease"),
        (RatingSession(scores={"ease": 0}), "scores, ease"),
        (RatingSession(scores={"ease": math.nan}), "scores, ease"),
        (RatingSession(scores={"sparkle": 5}), "scores"),
        (RatingSession(feel={"limp_stiff": 3}), "feel, limp_stiff"),
        (RatingSession(feel={"limp_stiff": math.nan}), "feel, limp_stiff"),
        (RatingSession(feel={"warm_cold": 1}), "feel"),
        (RatingSession(on=dt.date(2026, 11, 26)), "on"),
        (RatingSession(hours_of_use=-1), "hours_of_use"),
    ],
)
def test_what_is_refused_of_a_rating(session: RatingSession, where: str) -> None:
    with pytest.raises(RecordError) as caught:
        check_rating(session, today=TODAY)
    assert [finding.where for finding in caught.value.findings] == [where]
    assert refusals(replace(WHIP, ratings=(session,)))[0][0] == f"ratings 1, {where}"


def test_the_ends_of_the_scales_are_taken() -> None:
    session = RatingSession(
        on=TODAY,
        scores={"ease": 1, "volley": 10, "accuracy": "not tried"},
        feel={"limp_stiff": -2, "slow_quick": 2},
    )
    assert check_rating(session, today=TODAY) == ()


def test_all_refusals_of_a_record_come_at_once() -> None:
    whip = replace(
        WHIP,
        label="",
        layers=(plain("belly", (0, 12), (500, -1)),),
        readings=(Reading(at_mm=0, diameter_mm=-1), Reading(at_mm=9000, diameter_mm=3)),
        turn_lengths=(),
    )
    assert [code for _, code in refusals(whip)] == ["label-missing", "count", "not-a-size", "past-point"]
