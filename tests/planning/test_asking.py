"""What a plan is asked for: units read, what is left open filled in, every refusal with key and remedy."""

import math
from typing import Any

import numpy as np
import pytest

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
    Whip,
)
from plaitlog.service.schemas.plan_spec import spec_from
from plaitlog.service.usecases.planning.asking import asked_of
from plaitlog.service.usecases.planning.like_profile import measured_profile
from tests.planning.asked_whips import (
    BINDING,
    CORE,
    OVERLAY,
    TAPER,
    TWO,
    asked,
)
from tests.planning.by_geometry import CORDS, predict


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


def test_a_layer_of_two_cords_is_planned_with_their_shares() -> None:
    two = [{"cord": "Beck", "share": 8}, {"cord": "Ridge", "share": 4}]
    (overlay,) = asked(layers=[{"role": "overlay", "cords": two, "start": 12}]).asked.layers
    assert isinstance(overlay, AskedLayer)
    assert [(one.cord.name, one.share) for one in overlay.cords] == [("Beck 2.5 mm", 8), ("Ridge 4 mm", 4)]
    assert overlay.split(12) == (8, 4)
    assert overlay.fate.gutted


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
