"""What a plan is asked for: units read, what is left open filled in, every refusal with key and remedy."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plaitlog.models.errors import InputError, NotFoundError, RecordError, StackNotKnownError
from plaitlog.models.planning.asked import AskedLayer
from plaitlog.models.planning.drawn_up import drawn_up
from plaitlog.models.planning.levels import axis_of, levels_of
from plaitlog.models.planning.optimum import optimum
from plaitlog.models.planning.states import problem_of
from plaitlog.models.units import parse_length
from plaitlog.models.whip import (
    Fate,
    Foundation,
    Layer,
    LayerCord,
    Place,
    Reading,
    Step,
    StrandSchedule,
    Whip,
    exactly,
)
from plaitlog.service.schemas.plan_spec import spec_from
from plaitlog.service.usecases.places import from_handle_end
from plaitlog.service.usecases.planning.asking import Order, asked_of
from plaitlog.service.usecases.planning.like_profile import measured_profile
from tests.planning.by_geometry import CORDS, predict

OVERLAY = {"role": "overlay", "cord": "Beck 2.5 mm"}
CORE = {"role": "core", "cord": "Ridge 4 mm"}
BINDING = {"role": "binding", "thickness": "0.2 mm"}
TWO = [{"cord": "Beck 2.5 mm", "share": 7}, {"cord": "Ridge 4 mm", "share": 5}]
STOCK = {"pattern": "stock whip", "thong_length": "5' 6\"", "layers": [OVERLAY]}
TAPER = {"taper": "even", "thick_end": "14 mm", "point": "5.5 mm"}


def layer(role: Any, cord: str, *steps: tuple[float, int], fate: Fate | None = None) -> Layer:
    schedule = StrandSchedule(tuple(Step(Place(at, at), (exactly(n),)) for at, n in steps))
    return Layer(role=role, cords=(LayerCord(cord),), schedule=schedule, fate=fate)


FIRST = Whip(
    label="O-7",
    maker="Orrin",
    type="stock whip",
    datum="handle end",
    thong_length_mm=1000.0,
    handle_length_mm=0.0,
    layers=(
        layer("core", "Ridge 4 mm", (0, 4), (200, 3), (400, 0), fate=Fate("cut")),
        Layer(role="binding", thickness_mm=0.2, from_mm=0.0, to_mm=500.0, what="thread"),
        layer("overlay", "Beck 2.5 mm", (0, 16), (600, 12)),
    ),
    readings=tuple(
        Reading(at_mm=at, diameter_mm=mm) for at, mm in ((0, 15.0), (300, 12.0), (500, 12.4), (900, 7.0))
    ),
)


def whip(label: str) -> Whip:
    assert label == FIRST.label
    return FIRST


def asked(**more: Any) -> Order:
    return asked_of(spec_from({**STOCK, **more}), CORDS, whip)


def test_text_and_numbers_say_the_same() -> None:
    typed = asked(thong_length="5' 6\"", handle_length="0 in", target={"parallel_thick": "12 in"})
    numbers = asked(
        thong_length=None,
        thong_length_mm=1676.4,
        handle_length_mm=0,
        target={"parallel_thick_mm": 304.8},
        rules={"grid_mm": 12.7},
    )
    assert typed.whip.thong_length_mm == numbers.whip.thong_length_mm == pytest.approx(1676.4)
    assert np.array_equal(typed.asked.target.diameter_mm, numbers.asked.target.diameter_mm)
    assert typed.asked.target.held_to_mm == pytest.approx(304.8)
    assert typed.asked.target.held_from_mm == pytest.approx(1676.4 - 7 * 25.4)


@pytest.mark.parametrize(
    ("length", "unit", "grid", "tuck"),
    [("5 ft", "in", 12.7, 76.2), ("1,5 m", "mm", 10.0, 80.0), ("60″", "in", 12.7, 76.2)],
)
def test_places_and_tucks_lie_on_the_marks_of_the_tape(
    length: str, unit: str, grid: float, tuck: float
) -> None:
    """Half inches or 10 mm."""
    found = asked(thong_length=length)
    assert (found.unit, found.asked.rules.grid_mm) == (unit, grid)
    (overlay,) = found.asked.layers
    assert isinstance(overlay, AskedLayer)
    assert overlay.fate == Fate("tuck", tuck, gutted=True)


def test_a_stock_whip_is_that_of_common_practice() -> None:
    """14 mm held for 12 in, 5.5 mm for the last 7, a straight line in the diameter squared between."""
    found = asked(target={})
    diameters, grid = found.asked.target.diameter_mm, found.asked.rules.grid_mm
    assert diameters[: int(304.8 / grid) + 1] == pytest.approx(14.0)
    assert diameters[-int(177.8 / grid) :] == pytest.approx(5.5)
    between = diameters[25:118] ** 2
    assert np.diff(between) == pytest.approx(np.diff(between)[0], abs=1e-6)
    assert [one.code for one in found.findings] == ["pattern"]
    assert "no source" in found.findings[0].text
    assert not found.findings[0].remedy, "a remark: nothing of it is to be mended"


def test_a_pattern_fills_only_what_is_left_open() -> None:
    layers = [
        {"role": "core", "cord": "Ridge"},
        {"role": "belly", "cord": "Beck", "ends": "40 in"},
        OVERLAY,
    ]
    found = asked(
        pattern="6 ft bullwhip",
        thong_length=None,
        target={"thick_end": "18 mm", "point": "6 mm"},
        layers=layers,
    )
    core, belly, _ = found.asked.layers
    assert isinstance(core, AskedLayer)
    assert isinstance(belly, AskedLayer)
    assert found.whip.thong_length_mm == pytest.approx(72 * 25.4)
    assert core.ends == pytest.approx(36 * 25.4)
    assert belly.ends == pytest.approx(40 * 25.4)
    straight = 0.5 * (18 + 6)
    assert found.asked.target.diameter_mm.mean() < straight


@pytest.mark.parametrize(
    ("name", "thick", "taper"), [("light bullwhip", 19.0, "even"), ("heavy bullwhip", 22.0, "early")]
)
def test_a_bullwhip_goes_on_at_the_diameter_of_its_handle(name: str, thick: float, taper: str) -> None:
    """A light handle of 19 mm with an even taper, 22 mm and more with an early one (common practice)."""
    found = asked(pattern=name, thong_length="6 ft", target={"point": "6 mm"})
    numbers = {"taper": taper, "thick_end_mm": thick, "point": "6 mm"}
    same = asked(pattern=None, thong_length="6 ft", target=numbers)
    assert np.array_equal(found.asked.target.diameter_mm, same.asked.target.diameter_mm)
    assert found.asked.target.diameter_mm[0] == thick
    assert (found.whip.type, found.whip.handle_diameter_mm) == ("bullwhip", thick)


def test_nothing_is_dropped_on_the_transition_behind_a_rod_whether_it_is_stated_or_not() -> None:
    rod = {"handle_length": "8 in", "foundation": {"diameter": "8 mm", "to": "0 in"}}
    target = {"thick_end": "18 mm", "point": "6 mm"}
    plain = asked(pattern=None, thong_length="6 ft", target=target, **rod)
    assert plain.asked.target.held_to_mm == plain.transition_mm == pytest.approx(101.6)
    assert [one.text for one in plain.findings] == [
        "nothing is dropped on the 4 in behind the handle, which are taken for its transition"
    ]
    stated = asked(pattern=None, thong_length="6 ft", target=target, transition="0 in", **rod)
    assert (stated.asked.target.held_to_mm, stated.findings) == (0.0, ())
    bare = asked(pattern=None, thong_length="6 ft", target=target, handle_length="8 in")
    assert bare.asked.target.held_to_mm == 0.0


@pytest.mark.parametrize(
    ("more", "unit"),
    [
        ({"thong_length": None, "pattern": "6 ft bullwhip"}, "in"),
        ({"thong_length": None, "pattern": "6 ft bullwhip", "handle_length": "20 cm"}, "mm"),
        ({"thong_length": None, "thong_length_mm": 1700, "handle_length": "8 in"}, "mm"),
        ({"thong_length": "1,7 m", "handle_length": "8 in"}, "mm"),
    ],
)
def test_places_are_told_on_the_tape_that_lengths_were_typed_by(more: dict[str, Any], unit: str) -> None:
    assert asked(target={"thick_end": "18 mm", "point": "6 mm"}, **more).unit == unit


def test_a_whip_typed_in_feet_is_planned_again_in_inches() -> None:
    typed = replace(FIRST, typed={"thong_length": "3 ft 3 in"})
    again = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, lambda _: typed)
    assert (again.unit, again.asked.rules.grid_mm) == ("in", 12.7)
    assert asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, whip).unit == "mm"


def test_early_bellies_end_at_a_quarter_and_at_half() -> None:
    bellies = [{"role": "belly", "cord": "Beck"}, {"role": "belly", "cord": "Beck"}, OVERLAY]
    target = {"thick_end": "18 mm", "point": "6 mm"}
    found = asked(pattern="early bellies", thong_length="2 m", target=target, layers=bellies)
    assert [one.ends for one in found.asked.layers if isinstance(one, AskedLayer)] == [500.0, 1000.0, None]


def test_stations_are_joined_by_straight_lines_and_level_ends_are_held() -> None:
    target = {"stations": [["0", "16 mm"], ["100 mm", "16 mm"], ["600 mm", "10 mm"], ["1000 mm", "7 mm"]]}
    found = asked(pattern=None, thong_length="1 m", target=target).asked.target
    assert found.diameter_mm[35] == pytest.approx(13.0)
    assert (found.held_to_mm, found.held_from_mm) == (100.0, 1000.0)


def test_places_typed_from_the_butt_are_counted_from_the_handle_end() -> None:
    target = {"stations_mm": [[200, 16], [1200, 6]]}
    layers = [{"role": "core", "cord": "Ridge", "ends_mm": 700}, OVERLAY]
    found = asked(
        pattern=None,
        datum="butt",
        thong_length="1 m",
        handle_length="200 mm",
        target=target,
        layers=layers,
        foundation={"diameter": "8 mm", "to": "250 mm"},
    )
    core = found.asked.layers[0]
    assert isinstance(core, AskedLayer)
    assert core.ends == 500.0
    assert found.asked.target.diameter_mm[[0, 50, 100]] == pytest.approx([16, 11, 6])
    assert isinstance(found.whip.foundation, Foundation)
    assert found.asked.foundation_to_mm == found.whip.foundation.to_mm == 50.0
    assert [one.code for one in found.findings] == ["datum", "transition"]


def test_a_recorded_whip_gives_profile_layers_and_the_rest() -> None:
    found = asked_of(spec_from({"target": {"like": "O-7"}, "thong_length": "2 m"}), CORDS, whip)
    core, binding, overlay = found.asked.layers
    assert isinstance(core, AskedLayer)
    assert isinstance(overlay, AskedLayer)
    assert isinstance(binding, Layer)
    assert (core.start, core.ends, core.fate) == (4, 800.0, Fate("cut"))
    assert (overlay.start, overlay.ends) == (16, "point")
    assert (binding.thickness_mm, binding.to_mm) == (0.2, 1000.0)
    assert (found.whip.maker, found.whip.type) == ("Orrin", "stock whip")
    assert found.asked.target.diameter_mm[[0, 30, 60, 100, 180, 200]] == pytest.approx(
        [15.0, 13.6, 12.2, 12.2, 7.0, 7.0]
    )


def from_butt(made: Whip, handle_mm: float) -> Whip:
    """The same whip with a handle, recorded from the butt: everything lies that much further on."""

    def moved(one: Layer) -> Layer:
        schedule = one.schedule
        if schedule is not None:
            first, *rest = schedule.steps
            later = [
                replace(step, place=Place(step.place.low_mm + handle_mm, step.place.high_mm + handle_mm))
                for step in rest
            ]
            schedule = replace(schedule, steps=(first, *later))
        to_mm = None if one.to_mm is None else one.to_mm + handle_mm
        return replace(one, schedule=schedule, to_mm=to_mm)

    return replace(
        made,
        datum="butt",
        handle_length_mm=handle_mm,
        foundation=Foundation(diameter_mm=8.0, to_mm=handle_mm),
        layers=tuple(map(moved, made.layers)),
        readings=(
            Reading(at_mm=0.5 * handle_mm, diameter_mm=22.0),
            *(replace(one, at_mm=(one.at_mm or 0.0) + handle_mm) for one in made.readings),
        ),
    )


def test_a_whip_recorded_from_the_butt_is_planned_like_the_same_from_the_handle_end() -> None:
    plain = replace(
        FIRST, handle_length_mm=200.0, foundation=Foundation(diameter_mm=8.0, to_mm=0.0)
    )  # its places are those of its thong
    spec = spec_from({"target": {"like": "O-7"}, "thong_length": "1.5 m"})
    one, other = (
        asked_of(spec, CORDS, lambda _, made=made: made) for made in (plain, from_butt(FIRST, 200.0))
    )
    assert other.asked.layers == one.asked.layers
    assert np.array_equal(other.asked.target.diameter_mm, one.asked.target.diameter_mm)
    assert other.whip.foundation == one.whip.foundation
    assert (other.whip.datum, other.whip.handle_length_mm) == ("handle end", 200.0)
    unknown = replace(from_butt(FIRST, 200.0), handle_length_mm=None)
    with pytest.raises(StackNotKnownError, match="note the handle length of O-7"):
        asked_of(spec, CORDS, lambda _: unknown)


def test_drops_on_the_handle_are_done_where_the_thong_begins() -> None:
    """14 strands at the butt, 12 from the middle of the handle on: the thong begins with 12."""
    overlay = layer("overlay", "Beck 2.5 mm", (0, 14), (100, 12), (700, 8))
    made = replace(from_butt(FIRST, 200.0), layers=(overlay,))
    turned = from_handle_end(made).layers[0].schedule
    assert turned is not None
    assert [(x.place.mid_mm, x.total.mid) for x in turned.steps] == [(0.0, 12), (500.0, 8)]


def test_strands_that_run_to_a_place_end_in_proportion() -> None:
    """To 400 mm of a metre, to 800 mm of two: as the fate of a layer, and as that of one drop."""
    run = Fate("run", until_mm=400.0)
    core = replace(FIRST.layers[0], fate=run)
    both = tuple(LayerCord(name) for name in CORDS)
    steps = (
        Step(Place(0, 0), (exactly(9), exactly(7))),
        Step(Place(300, 300), (exactly(7), exactly(7)), run),
    )
    kept = replace(FIRST.layers[2], cords=both, schedule=StrandSchedule(steps))
    first = replace(FIRST, layers=(core, FIRST.layers[2], kept))
    spec = spec_from({"target": {"like": "O-7"}, "thong_length": "2 m"})
    found = asked_of(spec, CORDS, lambda _: first).asked.layers
    assert isinstance(found[0], AskedLayer)
    assert found[0].fate == Fate("run", until_mm=800.0)
    assert isinstance(found[2], Layer)
    assert found[2].schedule is not None
    assert found[2].schedule.steps[1].fate == Fate("run", until_mm=800.0)


def test_an_end_beside_a_drop_of_a_layer_that_stays_as_it_was_is_moved_to_the_next_node() -> None:
    """With odd strands of its cords; nothing else is dropped within 10 mm of its drops."""
    two = replace(FIRST.layers[2], cords=(LayerCord("Beck 2.5 mm"), LayerCord("Ridge 4 mm")))
    both = [Step(Place(at, at), (exactly(n), exactly(n))) for at, n in ((0.0, 7), (396.0, 6), (405.0, 5))]
    overlay = replace(two, schedule=StrandSchedule(tuple(both)))
    first = replace(FIRST, layers=(*FIRST.layers[:2], overlay))
    core, _, same = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, lambda _: first).asked.layers
    assert isinstance(core, AskedLayer)
    assert core.ends == 420.0
    assert same == overlay


def test_a_layer_of_two_cords_is_planned_with_their_shares() -> None:
    two = [{"cord": "Beck", "share": 8}, {"cord": "Ridge", "share": 4}]
    (overlay,) = asked(layers=[{"role": "overlay", "cords": two, "start": 12}]).asked.layers
    assert isinstance(overlay, AskedLayer)
    assert [(one.cord.name, one.share) for one in overlay.cords] == [("Beck 2.5 mm", 8), ("Ridge 4 mm", 4)]
    assert overlay.split(12) == (8, 4)
    assert overlay.fate.gutted


def test_a_recorded_overlay_in_two_cords_is_planned_anew() -> None:
    both = tuple(LayerCord(name) for name in CORDS)
    steps = tuple(Step(Place(at, at), (exactly(a), exactly(b))) for at, a, b in ((0, 12, 4), (500, 8, 4)))
    first = replace(FIRST, layers=(replace(FIRST.layers[2], cords=both, schedule=StrandSchedule(steps)),))
    (overlay,) = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, lambda _: first).asked.layers
    assert isinstance(overlay, AskedLayer)
    assert (overlay.start, overlay.split(16), overlay.split(8)) == (16, (12, 4), (6, 2))


def test_many_layers_are_planned_on_a_wider_grid_unless_one_is_given() -> None:
    layers = [
        {"role": role, "cord": "Beck", "start": start}
        for role, start in (("core", 8), ("belly", 12), ("belly", 14), ("overlay", 20))
    ]
    wide = asked(thong_length="3 m", layers=layers)
    assert wide.asked.rules.grid_mm == 20.0
    assert "wide-grid" in [one.code for one in wide.findings]
    assert len(wide.asked.target.diameter_mm) == 151
    given = asked(thong_length="3 m", layers=layers, rules={"grid": "10 mm"})
    assert given.asked.rules.grid_mm == 10.0
    few = asked(thong_length="3 m", layers=layers[2:])
    assert few.asked.rules.grid_mm == 10.0


def test_make_it_again_keeps_the_length() -> None:
    again = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, whip)
    pair = asked_of(spec_from({"target": {"pair_of": "O-7"}}), CORDS, whip)
    assert again.whip.thong_length_mm == 1000.0
    assert (again.pair, pair.pair) == (False, True)
    assert np.array_equal(again.asked.target.diameter_mm, pair.asked.target.diameter_mm)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 1000), st.floats(3, 30)), min_size=3, max_size=25).filter(
        lambda pairs: len({at for at, _ in pairs}) >= 3
    ),
    st.floats(300, 4000),
)
def test_a_smoothed_profile_never_rises_and_keeps_the_mean(
    pairs: list[tuple[int, float]], length_mm: float
) -> None:
    """Pooled values keep the sum of what they pool, slips left out; another length only stretches it."""
    read = tuple(Reading(at_mm=float(at), diameter_mm=mm) for at, mm in pairs)
    measured = Whip(
        label="x", datum="handle end", thong_length_mm=1000.0, handle_length_mm=0.0, readings=read
    )
    found = measured_profile(measured)
    assert np.all(np.diff(found.diameters_mm) <= 1e-9)
    number = [sum(at == station for at, _ in pairs) for station in found.stations_mm]
    pooled = sum(mm for at, mm in pairs if at not in found.passed_over_mm)
    assert np.dot(number, found.diameters_mm) == pytest.approx(pooled)
    assert {*found.stations_mm, *found.passed_over_mm} == {at for at, _ in pairs}
    at = np.linspace(0, 1, 7)
    assert found.diameter_mm(at * length_mm, length_mm) == pytest.approx(found.diameter_mm(at * 1000, 1000.0))


def test_a_profile_that_falls_already_is_kept_and_a_doubtful_reading_pulls_less() -> None:
    falling = tuple(Reading(at_mm=at, diameter_mm=mm) for at, mm in ((0, 15), (500, 11), (1000, 6)))
    plain = Whip(label="x", thong_length_mm=1000.0, datum="handle end", readings=falling)
    assert measured_profile(plain).diameters_mm.tolist() == [15, 11, 6]
    doubted = Reading(at_mm=500.0, diameter_mm=13.0, doubtful=True)
    odd = Whip(label="x", thong_length_mm=1000.0, datum="handle end", readings=(*falling, doubted))
    assert measured_profile(odd).diameters_mm[1] == pytest.approx((11 + 13 / 4) / 1.25)


@pytest.mark.parametrize("slip", [36.1, 1.15])
def test_a_slip_among_the_readings_does_not_shape_what_is_planned_like_it(slip: float) -> None:
    readings = (*FIRST.readings, Reading(at_mm=700.0, diameter_mm=slip))
    slipped = replace(FIRST, readings=readings)
    order = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, lambda label: slipped)
    sound = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, lambda label: FIRST)
    assert order.asked.target.diameter_mm.tolist() == sound.asked.target.diameter_mm.tolist()
    (told,) = [one for one in order.findings if one.code == "reading-passed-over"]
    assert "at 700 mm stand out" in told.text
    assert all(one.code != "reading-passed-over" for one in sound.findings)


@pytest.mark.parametrize(
    ("more", "where", "told"),
    [
        ({"tarjet": 1}, "tarjet", "did you mean 'target'"),
        ({"thong_length": "5"}, "thong_length", "5 ft"),
        ({"thong_length": "16 m"}, "thong_length", "100 to 15000 mm"),
        ({"thong_length": None}, "thong_length", "5 ft"),
        ({"thong_length_mm": 1000}, "thong_length", "says 1000"),
        ({"thong_length_mm": math.nan, "thong_length": None}, "thong_length_mm", "100 to 15000"),
        ({"thong_length_mm": "5 ft"}, "thong_length_mm", "the text under 'thong_length'"),
        ({"pattern": None, "target": {"thick_end": "14 mm"}}, "target, point", "5.5 mm"),
        ({"target": {"thick_end": 14}}, "target, thick_end", "thick_end_mm"),
        ({"target": {"thick_end": "4 mm"}}, "target, point", "thicker"),
        ({"target": {"fullness": 2}}, "target, fullness", "0.1 to 0.9"),
        ({"target": {"parallel_thick": "60 in"}}, "target", "shorter"),
        ({"target": {"stations": [["0", "14 mm"]]}}, "target, stations", "2 to 200"),
        ({"target": {"stations": [["0", "14 mm"], ["9", "5 mm"]]}}, "target, stations 2", "unit"),
        ({"target": {"stations_mm": [[0, 14], [9000, 5]]}}, "target, stations_mm 2", "not on the thong"),
        ({"target": {"stations_mm": [[9, 14], [0, 5]]}}, "target, stations 2", "sort them"),
        ({"target": {"taper": "even", "like": "O-7"}}, "target", "keep"),
        ({"target": {"taper": "parallel"}}, "target, taper", "early"),
        ({"layers": None}, "layers", "innermost first"),
        ({"layers": [{"role": "core", "cord": "Ridge"}]}, "layers", "outer plait"),
        ({"layers": [OVERLAY, {"role": "core", "cord": "Ridge"}]}, "layers", "core first"),
        ({"layers": [{"role": "overlay"}]}, "layers 1, cord", "name of a cord"),
        ({"layers": [{**OVERLAY, "start": 15}]}, "layers 1, start", "in pairs"),
        ({"layers": [{**OVERLAY, "cords": TWO}]}, "layers 1, cords", "keep one of them"),
        ({"layers": [{"role": "overlay", "cords": [TWO[0], TWO[0]]}]}, "layers 1, cords", "listed twice"),
        ({"layers": [{"role": "overlay", "cords": TWO, "start": 12}]}, "layers 1, cords", "write even"),
        (
            {"layers": [{"role": "core", "cords": TWO, "diameter": "9 mm"}, OVERLAY]},
            "layers 1",
            "cords stands",
        ),
        ({"layers": [{**OVERLAY, "start": 26}]}, "layers 1, start", "plait_counts under rules"),
        ({"layers": [{**OVERLAY, "ends": "30 in"}]}, "layers 1, ends", "point"),
        ({"layers": [{**OVERLAY, "fate": "burn"}]}, "layers 1, fate, character 1", "cut, tuck 80 mm or run"),
        ({"layers": [{**OVERLAY, "fate": "tuck 2 ft"}]}, "layers 1, fate", "at most 12 in"),
        ({"layers": [{"role": "binding"}, OVERLAY]}, "layers 1", "thickness or diameter"),
        ({"layers": [{"role": "belly", "diameter": "9 mm"}, OVERLAY]}, "layers 1", "name its cord"),
        ({"layers": [{**OVERLAY, "role": "core", "ends": "7 ft"}, OVERLAY]}, "layers 1, ends", "point"),
        (
            {"layers": [{"role": "core", "cord": "Ridge", "ends": "9 in"}, OVERLAY]},
            "layers 1, ends",
            "write 12 in to 59 in",
        ),
        (
            {"thong_length": "1.6 m", "layers": [{"role": "core", "cord": "Ridge", "ends": "9 in"}, OVERLAY]},
            "layers 1, ends",
            "write 304.8 mm to",
        ),
        (
            {"pattern": None, "target": TAPER, "layers": [{**CORE, "ends": "0 in"}, OVERLAY]},
            "layers 1, ends",
            "leave the layer out",
        ),
        (
            {"layers": [{**CORE, "ends": "4 in"}, OVERLAY], "datum": "butt", "handle_length": "8 in"},
            "layers 1, ends",
            "write 12 in to 59 in",
        ),
        ({"layers": [{**BINDING, "from": "7 ft"}, OVERLAY]}, "layers 1, from", "the thong is 66 in"),
        ({"layers": [{**BINDING, "from": "30 in", "to": "10 in"}, OVERLAY]}, "layers 1, to", "ends at 10 in"),
        ({"layers": [{**BINDING, "from": "9 in", "to": "9 in"}, OVERLAY]}, "layers 1, to", "correct one"),
        ({"layers": [OVERLAY] * 7}, "layers", "at most 6"),
        ({"rules": {"grid": "1 mm"}}, "rules, grid", "5 to 50 mm"),
        ({"rules": {"plait_counts": [5, 24]}}, "rules, plait_counts", "even"),
        ({"rules": {"cover": [1, 0.5]}}, "rules, cover", "[least, most]"),
        ({"foundation": {"diameter_mm": 8, "to": "6 ft"}}, "foundation, to", "the thong is 66 in"),
        ({"foundation": {"material": "steel"}}, "foundation, diameter", '"none"'),
    ],
)
def test_what_cannot_be_planned_is_refused_with_key_value_and_remedy(
    more: dict[str, Any], where: str, told: str
) -> None:
    with pytest.raises(RecordError) as error:
        asked(**more)
    (finding,) = error.value.findings
    assert finding.where == where
    assert finding.remedy
    assert told in str(finding)


def test_every_mistake_is_told_at_once() -> None:
    layers = [{"role": "core", "cord": "Ridge", "ends": "9"}, {**OVERLAY, "start": 3}]
    with pytest.raises(RecordError) as error:
        asked(target={"thick_end": "x"}, layers=layers)
    assert [one.where for one in error.value.findings] == [
        "target, thick_end",
        "layers 1, ends",
        "layers 2, start",
    ]


def test_names_that_are_not_there_are_told_with_the_nearest() -> None:
    with pytest.raises(InputError, match=r"layers 1.*Beck"):
        asked(layers=[{**OVERLAY, "cord": "Bekc 2.5 mm"}])

    def nobody(label: str) -> Whip:
        raise NotFoundError(measured_nothing.value.finding)

    with pytest.raises(StackNotKnownError, match="measured at 0 stations") as measured_nothing:
        measured_profile(Whip(label="x", thong_length_mm=900.0, datum="handle end"))
    with pytest.raises(NotFoundError):
        asked_of(spec_from({"target": {"like": "O-9"}}), CORDS, nobody)


def test_a_declared_unit_is_that_of_lengths_and_mm_of_diameters_too() -> None:
    metric = asked(units="mm", thong_length="1700", target={"thick_end": "15", "parallel_thick": "300"})
    assert metric.whip.thong_length_mm == 1700.0
    assert metric.asked.target.diameter_mm[0] == 15.0
    inches = asked(units="in", thong_length="66", target={"parallel_thick": "12"})
    assert inches.whip.thong_length_mm == pytest.approx(1676.4)
    with pytest.raises(RecordError, match="target, thick_end: no unit"):
        asked(units="in", thong_length="66", target={"thick_end": "15"})


@pytest.mark.parametrize("inches", ["1 1/2", "12", "14 1/2", "31 1/2"])
def test_an_end_typed_in_half_inches_is_met_on_the_half_inch(inches: str) -> None:
    """A multiple of 12.7 may lie a digit before what is typed: 63 times 12.7 before 31 1/2 in."""
    core = {**CORE, "start": 1, "ends": f"{inches} in"}
    order = asked(pattern=None, thong_length="4 ft", target=TAPER, layers=[core, {**OVERLAY, "start": 16}])
    problem, levels = problem_of(order.asked, predict)
    schedule = optimum(problem)
    assert schedule is not None
    layers = drawn_up(order.asked, schedule, levels)
    assert layers[0].schedule is not None
    assert [step.place.mid_mm for step in layers[0].schedule.steps] == [0.0, parse_length(f"{inches} in")]


def test_the_first_drop_may_lie_where_a_parallel_end_typed_in_inches_ends() -> None:
    target = {**TAPER, "parallel_thick": "12 in", "parallel_point": "7 in"}
    order = asked(pattern=None, thong_length="4 ft", target=target)
    (levels,) = levels_of(order.asked)
    allowed = np.flatnonzero(axis_of(order.asked, levels, len(order.asked.target.diameter_mm)).allowed)
    assert (allowed[0], allowed[-1]) == (24, 82)
