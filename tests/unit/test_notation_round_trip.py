"""Every schedule and every run of readings survives being printed and read again, in every unit."""

from dataclasses import replace

from hypothesis import example, given
from hypothesis import strategies as st

from plaitlog.models.notation import (
    echo_schedule,
    parse_fate,
    parse_readings,
    parse_schedule,
    print_fate,
    print_readings,
    print_schedule,
)
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import (
    CONDITIONS,
    Fate,
    Layer,
    Place,
    Reading,
    Step,
    StrandSchedule,
    exactly,
)
from tests.unit.schedules import CORDS, POINT_MM, schedules

units = st.sampled_from(["in", "mm", "cm"])
LETTERS = {cord.letter: cord.cord for cord in CORDS if cord.letter}


@given(schedules(), units)
def test_one_cord_without_a_letter(noted: tuple[StrandSchedule, Fate | None], unit: LengthUnit) -> None:
    schedule, fate = noted
    text = print_schedule(schedule, unit, fate=fate)
    line = parse_schedule(text, point_mm=POINT_MM)
    assert (line.schedule, line.fate, line.cords, line.unit) == (schedule, fate, (), unit)
    assert not line.findings


@given(st.integers(1, 3).flatmap(schedules), units)
def test_several_cords_by_letter(noted: tuple[StrandSchedule, Fate | None], unit: LengthUnit) -> None:
    schedule, fate = noted
    cords = CORDS[: len(schedule.steps[0].counts)]
    text = print_schedule(schedule, unit, cords=cords, fate=fate)
    line = parse_schedule(text, cords=cords, point_mm=POINT_MM)
    assert (line.schedule, line.fate, line.cords) == (schedule, fate, cords)


@given(st.integers(1, 3).flatmap(schedules), units)
def test_letters_alone_name_the_cords(noted: tuple[StrandSchedule, Fate | None], unit: LengthUnit) -> None:
    schedule, fate = noted
    cords = CORDS[: len(schedule.steps[0].counts)]
    line = parse_schedule(
        print_schedule(schedule, unit, cords=cords, fate=fate), letters=LETTERS, point_mm=POINT_MM
    )
    order = [cords.index(replace(cord, share=1.0)) for cord in line.cords]
    left_out = set(range(len(cords))) - set(order)
    read = [tuple(step.counts[order.index(i)] for i in sorted(order)) for step in line.schedule.steps]
    assert read == [tuple(step.counts[i] for i in sorted(order)) for step in schedule.steps]
    assert all(step.counts[i].high == 0 for step in schedule.steps for i in left_out)


@given(schedules(), units)
def test_printing_settles(noted: tuple[StrandSchedule, Fate | None], unit: LengthUnit) -> None:
    """What was printed, read and printed again is the same text."""
    schedule, fate = noted
    text = print_schedule(schedule, unit, fate=fate)
    line = parse_schedule(text, point_mm=POINT_MM)
    assert print_schedule(line.schedule, unit, fate=line.fate) == text


@given(st.integers(1, 3).flatmap(schedules), units)
def test_the_echo_names_every_count(noted: tuple[StrandSchedule, Fate | None], unit: LengthUnit) -> None:
    schedule, fate = noted
    cords = CORDS[: len(schedule.steps[0].counts)]
    words = echo_schedule(schedule, unit, cords=cords, fate=fate)
    last = schedule.steps[-1].total
    if len(schedule.steps) > 1 and last.high > 0:
        assert (f"{last.low:g}" if last.exact else f"{last.low:g} to {last.high:g}") in words
    assert ("to the point" in words) == (last.high > 0 and schedule.rest == "point")


@given(
    st.sampled_from(["cut", "tuck", "run"]),
    st.none() | st.integers(1, 50_000).map(lambda n: n / 10),
    st.booleans(),
    units,
)
def test_a_fate_on_its_own(kind: str, length: float | None, gutted: bool, unit: LengthUnit) -> None:
    fate = {
        "cut": Fate("cut"),
        "tuck": Fate("tuck", length, gutted),
        "run": Fate("run", None, gutted, length),
    }[kind]
    assert parse_fate(print_fate(fate, unit, with_unit=True)) == fate
    assert parse_fate(print_fate(fate, unit), unit) == fate


LAYERS = (Layer(role="core"), Layer(role="belly"), Layer(role="belly"), Layer(role="overlay"))
sizes = st.floats(0.5, 60).map(lambda mm: round(mm, 6)) | st.integers(50, 6000).map(lambda n: n / 100)
readings = st.builds(
    Reading,
    at_mm=st.floats(0.001, POINT_MM).map(lambda mm: round(mm, 6))
    | st.integers(0, 96).map(lambda n: round(n * 25.4, 6)),
    diameter_mm=sizes,
    after_layer=st.none() | st.integers(1, 4),
    condition=st.none() | st.sampled_from(CONDITIONS),
    doubtful=st.booleans(),
) | st.builds(
    Reading,
    at_mm=st.integers(0, 2000).map(float),
    girth_mm=st.floats(2, 600).map(lambda mm: round(mm, 6)),
    tape_mm=st.none() | st.floats(0.05, 1).map(lambda mm: round(mm, 6)),
    condition=st.none() | st.sampled_from(CONDITIONS),
)
named = st.builds(
    lambda reading, place: replace(
        reading, place=place, at_mm={"thick": 0.0, "mid": 1200.0, "point": POINT_MM}[place]
    ),
    readings,
    st.sampled_from(["thick", "mid", "point"]),
)


@given(st.lists(readings | named, min_size=1, max_size=12), units, units, st.booleans())
@example([Reading(at_mm=0.0, diameter_mm=19.2), Reading(at_mm=0.0, diameter_mm=18.8)], "in", "mm", False)
def test_readings(noted: list[Reading], unit: LengthUnit, size_unit: LengthUnit, known: bool) -> None:
    layers = LAYERS if known else ()
    text = print_readings(noted, unit, size_unit, layers=layers)
    line = parse_readings(text, layers=layers, point_mm=POINT_MM)
    assert line.readings == tuple(noted)


def test_named_places_without_a_station_stay_named() -> None:
    noted = [Reading(at_mm=None, place=place, diameter_mm=12.0) for place in ("thick", "mid", "point")]
    assert parse_readings(print_readings(noted), start_mm=None).readings == tuple(noted)


def test_an_even_run_of_drops_is_said_once() -> None:
    steps = [Step(Place(25.4 * (30 + 4 * n), 25.4 * (30 + 4 * n)), (exactly(14 - 2 * n),)) for n in range(4)]
    schedule = StrandSchedule((Step(Place(0.0, 0.0), (exactly(16),)), *steps))
    assert print_schedule(schedule, "in") == "in: 16; 30: -2 each 4 to 8; p"
