"""What a plan is asked to be like: a recorded whip again, its pair, or its profile at another length."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.planning.asked import AskedLayer
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
from plaitlog.service.usecases.planning.asking import asked_of
from plaitlog.service.usecases.planning.like_profile import measured_profile
from tests.planning.asked_whips import (
    FIRST,
    layer,
    whip,
)
from tests.planning.by_geometry import CORDS


def test_a_whip_typed_in_feet_is_planned_again_in_inches() -> None:
    typed = replace(FIRST, typed={"thong_length": "3 ft 3 in"})
    again = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, lambda _: typed)
    assert (again.unit, again.asked.rules.grid_mm) == ("in", 12.7)
    assert asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, whip).unit == "mm"


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


def test_a_recorded_overlay_in_two_cords_is_planned_anew() -> None:
    both = tuple(LayerCord(name) for name in CORDS)
    steps = tuple(Step(Place(at, at), (exactly(a), exactly(b))) for at, a, b in ((0, 12, 4), (500, 8, 4)))
    first = replace(FIRST, layers=(replace(FIRST.layers[2], cords=both, schedule=StrandSchedule(steps)),))
    (overlay,) = asked_of(spec_from({"target": {"like": "O-7"}}), CORDS, lambda _: first).asked.layers
    assert isinstance(overlay, AskedLayer)
    assert (overlay.start, overlay.split(16), overlay.split(8)) == (16, (12, 4), (6, 2))


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
