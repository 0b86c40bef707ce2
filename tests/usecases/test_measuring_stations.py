"""Where a whip is measured: off drops, transition, keeper and fall hitch, and back from what is typed."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.errors import InputError
from plaitlog.models.units import parse_length
from plaitlog.models.whip import Foundation, Layer, LayerCord, Place, Step, StrandSchedule, Whip, exactly
from plaitlog.service.usecases.measuring.stations import awkward, run_of, stations_every, stations_listed
from plaitlog.service.usecases.shown_units import ShownUnits

INCHES, METRIC = ShownUnits(), ShownUnits("mm", "mm")


def layer(role: Any, *steps: tuple[float, int]) -> Layer:
    schedule = StrandSchedule(tuple(Step(Place(at, at), (exactly(count),)) for at, count in steps))
    return Layer(role=role, cords=(LayerCord("Ridge 4 mm"),), schedule=schedule)


def whip(*drops: float, **more: Any) -> Whip:
    """A thong of 1800 mm: a core to 900 mm, an overlay with pairs dropped at ``drops``."""
    overlay = layer("overlay", (0, 16), *((at, 14 - 2 * k) for k, at in enumerate(drops)))
    said: dict[str, Any] = {"type": "snake whip", "fall": "none", "thong_length_mm": 1800.0, **more}
    return Whip(label="W", layers=(layer("core", (0, 6), (900, 0)), overlay), **said)


@given(
    drops=st.lists(st.integers(1, 1790).map(float), unique=True, max_size=6).map(sorted),
    spacing=st.sampled_from(["150", "3 in", "60 mm", "1 ft"]),
    after_layer=st.sampled_from([None, 1]),
)
def test_stations_lie_where_a_thong_can_be_measured_and_none_goes_untold(
    drops: list[float], spacing: str, after_layer: int | None
) -> None:
    thong = whip(*drops)
    try:
        found = stations_every(thong, after_layer, spacing, METRIC)
    except InputError:
        return
    low, high = run_of(thong, after_layer)
    assert high is not None
    apart = parse_length(spacing if spacing != "150" else "150 mm")
    off = awkward(thong, after_layer)
    for station in found.places:
        assert low <= station.at_mm <= high
        assert off.near(station.at_mm) == ""
        assert parse_length(station.text) == station.at_mm
    wanted = sum(low <= k * apart <= high for k in range(2000))
    moved_together = sum(bool(station.note) for station in found.places)
    assert len(found.places) + len(found.left_out) <= wanted + 1
    assert len(found.places) + len(found.left_out) >= wanted - moved_together


def test_a_station_by_a_drop_is_moved_to_the_nearest_mark_20_mm_off_it() -> None:
    found = stations_every(whip(610.0), None, "12", INCHES)
    at = {station.text: station.note for station in found.places}
    # 24 in is 609.6 mm; 23 in is 584.2 mm (25.8 off), 25 in 635.0 (25.0 off), both 25.4 away: the first one.
    assert at["23 in"] == "moved from 24 in: a drop in the overlay"
    assert "24 in" not in at


def test_the_transition_of_a_rod_and_the_fall_hitch_are_left_alone() -> None:
    bullwhip = whip(
        type="bullwhip", fall=None, handle_length_mm=200.0, foundation=Foundation(diameter_mm=8.0, to_mm=0.0)
    )
    found = stations_every(bullwhip, None, "150 mm", METRIC)
    assert found.left_out == ("0 mm: on the transition",)
    assert found.places[0].text == "150 mm"
    assert found.places[-1].at_mm == 1780.0


def test_a_layer_that_begins_with_the_thong_is_no_change_along_it() -> None:
    rope = Layer(role="core", diameter_mm=9.0, from_mm=0.0, to_mm=600.0)
    found = stations_every(replace(whip(), layers=(rope, layer("overlay", (0, 16)))), None, "300 mm", METRIC)
    assert [(one.text, one.note) for one in found.places[:3]] == [
        ("0 mm", ""),
        ("300 mm", ""),
        ("580 mm", "moved from 600 mm: an end of the core"),
    ]


def test_a_keeper_is_not_measured_but_the_inner_layer_under_it_is() -> None:
    stock = whip(type="stock whip", handle_length_mm=480.0)
    assert stations_every(stock, None, "150 mm", METRIC).places[0].note == "moved from 0 mm: at the keeper"
    assert stations_every(stock, 1, "150 mm", METRIC).places[0].text == "0 mm"


def test_listed_stations_stay_where_they_are_and_are_marked() -> None:
    found = stations_listed(whip(610.0), None, "24, 4, 12 1/2; 600 mm", INCHES)
    assert [(station.text, station.note) for station in found.places] == [
        ("4 in", ""),
        ("12 1/2 in", ""),
        ("600 mm", "a drop in the overlay"),
        ("24 in", "a drop in the overlay"),
    ]
    assert [one.at_mm for one in stations_listed(whip(), None, "0 150 300", METRIC).places] == [0, 150, 300]


@pytest.mark.parametrize(
    ("typed", "told"),
    [("80", "80 in lies past the point"), ("6, x", "'x' is not a length"), (" ", "no station is listed")],
)
def test_what_is_no_station_is_told(typed: str, told: str) -> None:
    with pytest.raises(InputError, match=told) as refused:
        stations_listed(whip(), None, typed, INCHES)
    assert refused.value.finding.where == "list"
