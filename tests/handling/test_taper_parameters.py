"""Taper parameters of recorded whips: what they rest on, what is left out, what is predicted instead."""

import math
import random
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.calibration.prediction import Query
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import (
    Balance,
    Cord,
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    Reading,
    Span,
    Step,
    StrandSchedule,
    Weight,
    Whip,
)
from plaitlog.service.usecases.handling.parameters import TaperParameters, all_parameters, parameters_of
from plaitlog.service.usecases.predicting import InForce

FELL = Cord(
    name="Fell 3 mm",
    material="nylon",
    construction="cored",
    diameter_mm=3.0,
    linear_density_g_per_m=5.0,
    flat_width_mm=3.3,
)
CORDS = {FELL.name: FELL}
PRIORS = InForce(prior_calibration(), None)
LENGTH = 1500.0
CORE = [(0, 9), (300, 7), (420, 5), (540, 3), (660, 0)]
OVERLAY = [(0, 16), (750, 14), (870, 12), (990, 10), (1110, 8)]


def layer(role: str, steps: list[tuple[int, int]], shift: float = 0.0) -> Layer:
    places = [at + shift if at > 0 else 0.0 for at, _ in steps]
    made = tuple(Step(Place(at, at), (Span(n, n),)) for at, (_, n) in zip(places, steps, strict=True))
    return Layer(
        role=role,  # type: ignore[arg-type]
        cords=(LayerCord(FELL.name),),
        schedule=StrandSchedule(made),
        fate=Fate("cut"),
    )


def whip(*readings: Reading, **more: object) -> Whip:
    facts: dict[str, object] = {
        "label": "W",
        "status": "finished",
        "datum": "handle end",
        "thong_length_mm": LENGTH,
        "handle_length_mm": 0.0,
        "layers": (layer("core", CORE), layer("overlay", OVERLAY)),
        "readings": readings,
    }
    return Whip(**(facts | more))  # type: ignore[arg-type]


def at(mm: float | None, size: float, **more: object) -> Reading:
    return Reading(at_mm=mm, diameter_mm=size, **more)  # type: ignore[arg-type]


def falling(stations: int) -> list[Reading]:
    """Evenly spaced, from 15 to 6 mm, straight in diameter squared."""
    places = np.linspace(0, LENGTH, stations)
    return [at(float(x), math.sqrt(225 - 189 * x / LENGTH)) for x in places]


def told(*readings: Reading, **more: object) -> TaperParameters:
    return parameters_of(PRIORS, whip(*readings, **more), CORDS)


def assert_same(one: TaperParameters, other: TaperParameters) -> None:
    assert one.parameters.keys() == other.parameters.keys()
    for name, x in one.parameters.items():
        y = other.parameters[name]
        assert (y.value, y.sd) == pytest.approx((x.value, x.sd)), name


def test_enough_readings_are_measured_and_say_so() -> None:
    found = told(*falling(10))
    for name in ("thick_end_mm", "point_mm", "fullness", "middle_share", "parallel_thick_mm"):
        assert found.parameters[name].known == "measured", name
    assert found.parameters["fullness"].value == pytest.approx(0.57, abs=0.03)
    assert found.word == "even"
    assert found.readings is not None
    assert found.readings.words == "readings at 10 stations, rolled"


def test_the_order_of_readings_does_not_matter() -> None:
    readings = falling(9)
    shuffled = [readings[k] for k in np.random.default_rng(1).permutation(9)]
    assert_same(told(*readings), told(*shuffled))


def test_with_three_readings_the_middle_share_is_measured_and_the_fullness_is_not() -> None:
    three = [at(None, 15.0, place="thick"), at(None, 11.0, place="mid"), at(None, 6.0, place="point")]
    found = told(*three)
    assert found.parameters["middle_share"].known == "measured"
    assert found.parameters["middle_share"].value == pytest.approx(5 / 9, abs=0.01)
    assert found.parameters["fullness"].known == "predicted"
    (wanting,) = [one for one in found.findings if one.code == "no-fullness"]
    assert "3 stations more" in wanting.remedy
    # Where the stack is not known either, there is none at all.
    open_ = told(*three, layers=())
    assert "fullness" not in open_.parameters
    assert open_.parameters["middle_share"].known == "measured"


def test_without_readings_the_shape_is_that_of_the_predicted_stack() -> None:
    found = told()
    assert {found.parameters[name].known for name in ("thick_end_mm", "point_mm", "fullness")} == {
        "predicted"
    }
    assert found.predicted_from is not None
    ends = [Query(stack=stack_at(whip(), place, CORDS)) for place in (20.0, LENGTH - 20)]
    thick, point = PRIORS.predict(ends, "true")
    assert found.parameters["thick_end_mm"].value == pytest.approx(thick.diameter_mm, rel=0.03)
    assert found.parameters["point_mm"].value == pytest.approx(point.diameter_mm, rel=0.03)
    assert found.parameters["thick_end_mm"].sd == pytest.approx(thick.diameter_mm * thick.sd_log, rel=0.25)
    # Ends err together, so their ratio is much surer than either of them.
    apart = math.hypot(
        *(one.sd / one.value for one in (found.parameters[n] for n in ("thick_end_mm", "point_mm")))
    )
    ratio = found.parameters["taper_ratio"]
    assert ratio.sd / ratio.value < 0.75 * apart


def test_a_reading_or_two_of_its_own_narrow_what_is_predicted() -> None:
    alone = told()
    expected = alone.parameters["thick_end_mm"].value
    near = told(at(100, expected), at(250, expected))
    assert near.parameters["thick_end_mm"].known == "predicted"
    assert near.parameters["thick_end_mm"].sd < 0.6 * alone.parameters["thick_end_mm"].sd
    assert near.predicted_from is not None
    assert "2 readings of this whip" in near.predicted_from


def test_places_counted_from_the_butt_tell_the_same() -> None:
    handle = 300.0
    rod = Foundation(diameter_mm=8, to_mm=0.0, material="steel")
    from_end = whip(*falling(8), handle_length_mm=handle, foundation=rod)
    from_butt = replace(
        from_end,
        datum="butt",
        foundation=replace(rod, to_mm=handle),
        layers=(layer("core", CORE, handle), layer("overlay", OVERLAY, handle)),
        readings=tuple(replace(one, at_mm=(one.at_mm or 0) + handle) for one in from_end.readings),
    )
    one, other = (parameters_of(PRIORS, each, CORDS) for each in (from_end, from_butt))
    assert one.parameters.keys() == other.parameters.keys()
    shape = (
        "thick_end_mm",
        "fullness",
        "parallel_thick_mm",
        "drop_spacing_mm",
        "drop_spacing_trend",
        "core_fraction",
    )
    for name in shape:
        assert other.parameters[name].value == pytest.approx(one.parameters[name].value), name
    # The core lies over the rod where places count from the butt, so the handle weighs a little more.
    assert other.parameters["half_mass_fraction"].value == pytest.approx(
        one.parameters["half_mass_fraction"].value, rel=0.01
    )


def test_a_thong_from_the_butt_without_a_handle_length_says_what_to_note() -> None:
    found = told(*falling(8), datum="butt", handle_length_mm=None)
    assert "fullness" not in found.parameters
    assert any("handle length" in one.remedy for one in found.findings)


def test_doubtful_readings_inner_ones_and_another_condition_are_left_out() -> None:
    readings = falling(8)
    beside = [
        at(400.0, 30.0, doubtful=True),
        at(500.0, 9.0, after_layer=1),
        at(700.0, 19.0, condition="fresh"),
        at(2000.0, 5.0),
    ]
    found, clean = told(*readings, *beside), told(*readings)
    for name in ("thick_end_mm", "fullness", "parallel_thick_mm", "middle_share"):
        assert found.parameters[name].value == pytest.approx(clean.parameters[name].value), name
    assert found.readings is not None
    assert found.readings.left_out == {"doubtful": 1, "not on the thong": 1, "when fresh": 1}


def test_a_girth_counts_as_the_diameter_it_stands_for() -> None:
    readings = falling(8)
    girths = [
        replace(one, diameter_mm=None, girth_mm=math.pi * ((one.diameter_mm or 0) + 0.2), tape_mm=0.2)
        for one in readings
    ]
    by_tape, by_calipers = told(*girths), told(*readings)
    assert by_tape.parameters["thick_end_mm"].value == pytest.approx(
        by_calipers.parameters["thick_end_mm"].value, rel=0.003
    )
    assert by_tape.parameters["point_mm"].sd > by_calipers.parameters["point_mm"].sd


def test_repeats_at_a_station_make_it_surer_but_not_twice_as_sure() -> None:
    once = told(*falling(8)).parameters["fullness"].sd
    four_times = told(*falling(8) * 4).parameters["fullness"].sd
    assert 0.6 * once < four_times < 0.98 * once


def test_a_noted_weight_stands_for_the_weight_less_what_hung_on_it() -> None:
    bare = told(weights=(Weight(300.0, "none"),)).parameters["weight_per_length_g_per_m"]
    assert bare.value == pytest.approx(200.0)
    assert bare.known == "recorded"
    hung = told(weights=(Weight(312.0, ("fall", "cracker")),)).parameters["weight_per_length_g_per_m"]
    assert hung.value == pytest.approx(200.0)  # a fall of 10 g and a cracker of 2
    assert hung.sd > bare.sd
    assert told().parameters["weight_per_length_g_per_m"].known == "predicted"


def test_a_noted_balance_point_stands_and_another_is_reckoned() -> None:
    noted = told(balance=Balance(450.0, "butt", "laid straight")).parameters["balance_fraction"]
    assert (noted.value, noted.known) == (pytest.approx(0.3), "recorded")
    hanging = told(balance=Balance(450.0, "butt", "hanging")).parameters["balance_fraction"]
    assert hanging.known == "reckoned"


def test_what_the_record_says_is_taken_as_it_stands() -> None:
    found = told(handle_length_mm=450.0, handle_diameter_mm=20.0).parameters
    assert found["core_fraction"].value == pytest.approx(660 / LENGTH)
    assert found["belly_fraction"].value == 0.0
    assert found["drop_spacing_mm"].value == pytest.approx(120.0)
    assert found["handle_length_mm"].value == 450.0
    assert found["handle_ratio"].value == pytest.approx(20.0 / found["thick_end_mm"].value)
    unsure = told(layers_complete=False).parameters
    assert "belly_fraction" not in unsure


@pytest.mark.parametrize(
    "bare", [{"thong_length_mm": None}, {"layers": ()}, {"thong_length_mm": None, "layers": ()}]
)
def test_a_whip_of_which_little_is_known_says_what_to_mend(bare: dict[str, object]) -> None:
    found = told(**bare)
    assert not {"thick_end_mm", "fullness", "half_mass_fraction"} & set(found.parameters)
    assert found.word is None
    assert found.findings
    assert all(one.remedy for one in found.findings)


def test_many_whips_are_told_as_each_alone() -> None:
    rng = np.random.default_rng(3)
    whips = [
        whip(
            *(replace(x, diameter_mm=(x.diameter_mm or 0) * (1 + 0.01 * rng.normal())) for x in falling(n)),
            label=str(n),
        )
        for n in (2, 3, 5, 6, 8, 12)
    ]
    whips.insert(2, Whip(label="bare"))
    together = all_parameters(PRIORS, whips, CORDS)
    assert [one.label for one in together] == [one.label for one in whips]
    for each, found in zip(whips, together, strict=True):
        assert_same(parameters_of(PRIORS, each, CORDS), found)


def spoilt(found: Whip, draw: random.Random) -> Whip:
    """What a hurried hand may leave: parts missing, places and sizes mistyped, lengths that cannot be."""
    length = draw.choice([LENGTH, LENGTH, None, 30.0, 30_000.0])
    readings = tuple(
        replace(
            one,
            at_mm=draw.choice([one.at_mm, one.at_mm, one.at_mm, 100.0, None]),
            diameter_mm=one.size_mm * draw.choice([1.0, 1.0, 1.0, 0.1, 10.0]),
            doubtful=draw.random() < 0.1,
        )
        for one in found.readings
        if draw.random() < 0.8
    )
    layers = tuple(
        replace(one, schedule=one.schedule if draw.random() < 0.8 else None)
        for one in found.layers
        if draw.random() < 0.8
    )
    return replace(
        found,
        thong_length_mm=length,
        handle_length_mm=draw.choice([None, 0.0, 300.0]),
        datum=draw.choice([None, "butt", "handle end"]),
        foundation=draw.choice(
            [None, "none", Foundation(diameter_mm=8.0), Foundation(diameter_mm=9, to_mm=3000)]
        ),
        layers=layers,
        readings=readings,
        weights=draw.choice([(), (Weight(4.0, ("fall",)),), (Weight(300.0),)]),
        balance=draw.choice([None, Balance(450.0), Balance(9000.0), Balance(-50.0, "handle end")]),
    )


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_noted_the_answer_is_finite_and_inside_its_interval(seed: int) -> None:
    draw = random.Random(seed)
    whips = [spoilt(whip(*falling(draw.choice([3, 6, 10]))), draw) for _ in range(60)]
    for found in all_parameters(PRIORS, whips, CORDS):
        for name, one in found.parameters.items():
            assert all(map(math.isfinite, (one.value, one.sd, one.low_90, one.high_90))), name
            assert one.sd >= 0
            assert one.low_90 <= one.value <= one.high_90, name
