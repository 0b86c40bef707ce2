"""Drawing of a whip: what is drawn lies where the stated scales put it, and nothing is invented."""

import random
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.calibration.prediction import Query
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import stack_at
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.database import reading, writing
from plaitlog.service.reports import svg
from plaitlog.service.reports.drawn_whip import WhipDrawing, section_at
from plaitlog.service.reports.whip_drawing import to_svg, to_table
from plaitlog.service.usecases.fitting import gather, store, work_out
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.pictures.drawing import drawn, whip_drawing
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import NO_FIT, InForce, fit_in_force
from plaitlog.service.usecases.reviewing import review
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_by_name, whip
from tests.reports.drawn import Picture
from tests.usecases.examples import BULLWHIP, FELL, RIDGE
from tests.usecases.nouns import Workshop, workshops

PRIORS = InForce(prior_calibration(), None, (NO_FIT,))
RIDGE_OVERLAY: dict[str, Any] = {
    "role": "overlay",
    "cord": "Ridge 4 mm",
    "strands": "in: 16; 40: -2 each 2 to 8; p",
}
SNAKE: dict[str, Any] = {
    "kind": "whip", "label": "snake", "type": "snake whip", "status": "finished", "thong_length": "4 ft",
    "foundation": "none", "handle_length_mm": "none", "datum": "handle end",
    "layers": [
        {"role": "core", "cord": "Fell 3 mm", "strands": "in: 6; ~10: -2; 20..26: end"},
        RIDGE_OVERLAY,
    ],
    "readings": "in mm: 0 each 6: 15 14.5? 14.2/14.0 13 12",
}  # fmt: skip
NOTEBOOK: dict[str, Any] = {
    "kind": "whip", "label": "notebook", "maker": "Tamsin", "layers_complete": True, "thong_length": "5 ft",
    "layers": [
        {"role": "core", "cord": "Fell 3 mm", "strands": "in: 12; 20: -2; ?"},
        {"role": "overlay", "cord": "Ridge 4 mm", "strands": "in: 16; p"},
    ],
}  # fmt: skip
OPEN: dict[str, Any] = {**NOTEBOOK, "label": "open", "layers_complete": False}
LONG = "x" * 120 + "<script>alert('a') & \"b\"</script>"


@pytest.fixture
def workshop(sqlite_engine: Engine) -> Engine:
    """Five whips without a fit."""
    hostile = {**SNAKE, "label": LONG, "maker": "<i>Orrin</i>", "quoted_length": "&lt; ]]> <!-- 6 ft"}
    with writing(sqlite_engine) as session:
        take_records(session, [RIDGE, FELL, BULLWHIP, SNAKE, NOTEBOOK, OPEN, hostile])
    return sqlite_engine


def drawing_of(engine: Engine, label: str) -> WhipDrawing:
    with reading(engine) as session:
        return whip_drawing(session, label)


def noun(engine: Engine, label: str) -> tuple[Whip, dict[str, Cord], InForce]:
    with reading(engine) as session:
        return placed(whip(session, label)), cords_by_name(session), fit_in_force(session)


@pytest.mark.parametrize("label", ["2026-014", "snake"])
def test_readings_lie_where_the_stated_scales_put_them(workshop: Engine, label: str) -> None:
    recorded, _, _ = noun(workshop, label)
    picture = Picture(to_svg(drawing_of(workshop, label)))
    zero = picture.stations()["0 in"]
    wanted: dict[bool, list[tuple[float, float]]] = {False: [], True: []}
    for one in recorded.readings:
        assert one.at_mm is not None
        wanted[one.after_layer is not None].append((one.at_mm, one.size_mm))
    for inner, found in ((False, picture.finished()), (True, picture.inner())):
        assert len(found) == len(wanted[inner])
        for (x, diameter), (at_mm, size_mm) in zip(sorted(found), sorted(wanted[inner]), strict=True):
            assert (x - zero) * picture.along == pytest.approx(at_mm, abs=0.002 * picture.along)
            assert diameter == pytest.approx(size_mm, abs=0.002)


@pytest.mark.parametrize("label", ["2026-014", "snake"])
def test_the_ruler_names_stations_where_they_are(workshop: Engine, label: str) -> None:
    picture = Picture(to_svg(drawing_of(workshop, label)))
    stations = picture.stations()
    assert len(stations) > 3
    for name, x in stations.items():
        inches = float(name.removesuffix(" in"))
        assert (x - stations["0 in"]) * picture.along == pytest.approx(
            inches * 25.4, abs=0.03 * picture.along
        )


@pytest.mark.parametrize("label", ["2026-014", "snake"])
def test_bands_lie_on_each_other_from_the_axis_to_the_predicted_diameter(
    workshop: Engine, label: str
) -> None:
    recorded, cords, in_force = noun(workshop, label)
    picture = Picture(to_svg(drawing_of(workshop, label)))
    zero, bands = picture.stations()["0 in"], picture.bands()
    chance = random.Random(4)
    for _ in range(60):
        at_mm = chance.uniform(0, recorded.point_mm or 0)
        found = [bounds for band in bands if (bounds := band.bounds(zero + at_mm / picture.along))]
        stack = stack_at(recorded, at_mm, cords)
        assert len(found) == len(stack.layers) + (stack.foundation_mm > 0)
        height = picture.axis
        for lower, upper in sorted(found, reverse=True):
            assert lower == pytest.approx(height, abs=0.0011)
            assert upper <= lower
            height = upper
        (told,) = in_force.predict([Query(stack=stack, maker=recorded.maker)])
        assert picture.diameter(height) == pytest.approx(told.diameter_mm, abs=0.002)


def test_the_outline_and_its_interval_are_what_show_expects_at_each_reading(workshop: Engine) -> None:
    recorded, cords, in_force = noun(workshop, "snake")
    drawing = drawing_of(workshop, "snake")
    for line in review(in_force, recorded, cords).lines:
        section = section_at(drawing, line.reading.at_mm or 0.0)
        assert section is not None
        assert line.expected is not None
        told = (section.diameter_mm, section.low_90_mm, section.high_90_mm)
        expected = (line.expected.diameter_mm, line.expected.low_90_mm, line.expected.high_90_mm)
        assert told == pytest.approx(expected, rel=2e-3)


def test_what_is_not_known_is_left_empty_and_said(workshop: Engine) -> None:
    drawing = drawing_of(workshop, "notebook")
    picture = Picture(to_svg(drawing))
    edge = picture.stations()["0 in"] + 20 * 25.4 / picture.along
    assert max(x for band in picture.bands() for x, _ in band.corners) == pytest.approx(edge, abs=0.002)
    (frame,) = picture.marked("rect", "not-known")
    assert float(frame.get("x", 0)) == pytest.approx(edge, abs=0.002)
    said = " ".join(text for text, *_ in picture.texts)
    assert (
        "Not known from 20 in to 60 in: the strand schedule of layer 1 (core) is not noted that far." in said
    )
    assert "no reading is recorded" in said
    assert "where stations are counted from is not noted" in said
    heads, rows = to_table(drawing)
    assert rows[-1][heads.index("predicted")] == ""
    assert "not noted" in rows[-1][heads.index("90 %")]


def test_a_whip_of_which_no_stack_is_known_is_refused_with_what_is_missing(workshop: Engine) -> None:
    with pytest.raises(StackNotKnownError, match="not noted that the listed layers are all there are"):
        drawing_of(workshop, "open")


def test_the_table_tells_counts_filler_ranges_and_readings(workshop: Engine) -> None:
    heads, rows = to_table(drawing_of(workshop, "snake"))
    assert heads == ("at", "1 core", "2 overlay", "predicted", "90 %", "measured")
    by_place = {row[0]: row for row in rows}
    assert by_place["6 in"][1:3] == ("6", "16")
    assert by_place["6 in"][-1] == "14.5?"
    assert by_place["12 in"][-1] == "14.2 / 14.0"
    assert by_place["20 in"][1] == "0-4"
    assert by_place["42 in"][2] == "12"
    heads, rows = to_table(drawing_of(workshop, "2026-014"))
    by_place = {row[0]: row for row in rows}
    # 1500 mm: the overlay drops 4 of its 12, which run on inside beside 4 dropped before.
    assert by_place["59 1/16 in"][heads.index("4 overlay")] == "8 +8"
    assert by_place["5 7/8 in"][-1] == "17.9 on layer 2"


def test_hostile_names_are_text(workshop: Engine) -> None:
    picture = to_svg(drawing_of(workshop, LONG))
    read = Picture(picture)
    assert "<script" not in picture
    assert "<i>" not in picture
    assert read.all("title")[0].text == f"Drawing of whip {LONG}"
    # Cut with an ellipsis, and nothing beside the sheet.
    assert any(text.startswith("xxx") and text.endswith("…") for text, *_ in read.texts)
    assert all(0 < x < 297 for _, x, _ in read.texts)


def test_the_same_whip_gives_the_same_bytes(workshop: Engine) -> None:
    assert to_svg(drawing_of(workshop, "2026-014")) == to_svg(drawing_of(workshop, "2026-014"))


def told_whole(recorded: Whip) -> Whip:
    """The whip without layers of which nothing is noted, said to be whole, so that most can be drawn."""
    noted = [x for x in recorded.layers if (x.cords and x.schedule) or x.thickness_mm or x.diameter_mm]
    readings = [x for x in recorded.readings if x.after_layer is None]
    return replace(recorded, layers=tuple(noted), layers_complete=True, readings=tuple(readings))


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    workshop=workshops(), at=st.floats(0, 1), units=st.sampled_from([ShownUnits(), ShownUnits("mm", "in")])
)
def test_any_whip_is_drawn_as_its_stacks_say_or_refused(
    workshop: Workshop, at: float, units: ShownUnits
) -> None:
    cords = {cord.name: cord for cord in workshop.cords}
    for each in workshop.whips:
        recorded = placed(told_whole(each))
        try:
            drawing = drawn(PRIORS, recorded, cords, units)
        except StackNotKnownError:
            continue
        picture = Picture(to_svg(drawing))
        assert len(picture.finished()) + len(picture.inner()) == len(drawing.readings)
        heads, rows = to_table(drawing)
        assert {len(row) for row in rows} == {len(heads)}
        start_mm = max(drawing.start_mm, 0.0)
        place = start_mm + at * (drawing.end_mm - start_mm)
        section = section_at(drawing, place)
        assert section is not None
        if place in (section.from_mm, section.to_mm):
            continue
        try:
            stack = stack_at(recorded, place, cords)
        except StackNotKnownError:
            assert section.reason
            continue
        assert not section.reason
        counts = [layer.count if layer.count.high else None for layer in stack.layers]
        assert [layer.count for layer in section.layers] == counts
        assert [layer.role for layer in section.layers] == [layer.role for layer in stack.layers]


def test_all_of_it_lies_on_the_sheet_with_the_handle_before_the_datum(workshop: Engine) -> None:
    recorded, _, _ = noun(workshop, "2026-014")
    picture = Picture(to_svg(drawing_of(workshop, "2026-014")))
    zero, stations = picture.stations()["0 in"], [x for band in picture.bands() for x, _ in band.corners]
    butt = next(x for text, x, _ in picture.texts if text == "butt")
    assert (zero - butt) * picture.along == pytest.approx(
        recorded.handle_length_mm, abs=0.002 * picture.along
    )
    words, left = next((text, x) for text, x, _ in picture.texts if text == "layers in section")
    assert left + svg.width_of(words, 2.8) < butt < min(stations)
    assert max(stations) < 297 - 10
    height = float(picture.root.get("viewBox", "").split()[3])
    assert all(0 < y < height for _, _, y in picture.texts)


def test_a_strand_dropped_somewhere_and_tucked_ends_somewhere(sqlite_engine: Engine) -> None:
    """From 28 on it may have been dropped, from 31 on its tuck may have ended, at 37 it has."""
    tucked = {**RIDGE_OVERLAY, "strands": "in: 16; 28..34: -2 tuck 3; p"}
    with writing(sqlite_engine) as session:
        take_records(session, [RIDGE, {**SNAKE, "layers": [tucked], "readings": []}])
    drawing = drawing_of(sqlite_engine, "snake")
    assert [round(section.from_mm / 25.4, 6) for section in drawing.sections] == [0, 28, 34, 37]
    _, rows = to_table(drawing)
    assert [row[1] for row in rows] == ["16", "14-16 +0-2", "14 +0-2", "14"]


def test_a_fitted_maker_is_the_one_who_made_the_whip(workshop: Engine) -> None:
    with writing(workshop) as session:
        take_records(session, [{**BULLWHIP, "label": "a second one"}])
    with reading(workshop) as session:
        worked = work_out(gather(session), with_evidence=False)
    with writing(workshop) as session:
        store(session, worked)
    recorded, cords, in_force = noun(workshop, "2026-014")
    section = drawing_of(workshop, "2026-014").sections[0]
    stack = stack_at(recorded, (section.from_mm + section.to_mm) / 2, cords)
    hers, nobody = in_force.predict(
        [Query(stack=stack, maker=recorded.maker), Query(stack=stack, maker="nobody")]
    )
    assert section.diameter_mm == pytest.approx(hers.diameter_mm, rel=1e-9)
    assert section.high_90_mm == pytest.approx(hers.high_90_mm, rel=2e-3)
    assert nobody.high_90_mm > hers.high_90_mm * 1.005
