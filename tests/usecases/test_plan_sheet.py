"""The bench sheet of a plan: every drop once, places on the grid of a tape, measuring off the drops."""

import datetime as dt
import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.calibration.prediction import Query
from plaitlog.models.stack import stack_at
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Fate, Foundation, Layer, LayerCord, Step, StrandSchedule, Whip, exactly
from plaitlog.service.reports.bench_sheet_content import BenchSheet, LayerBlock
from plaitlog.service.usecases.planning.misses import OffTarget
from plaitlog.service.usecases.planning.replanning import Standing
from plaitlog.service.usecases.planning.sheet import bench_sheet
from plaitlog.service.usecases.planning.sheet_places import OFF_DROP_MM, grid_of, measuring_places, on_tape
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.recording.dialogue import Bench, Draft
from plaitlog.service.usecases.recording.questions import questions
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.planning.drawn_plans import BULL, CORDS, IN_FORCE, STOCK, cord, finished, laid

UNITS = [ShownUnits(), ShownUnits("mm", "mm"), ShownUnits("cm", "in"), ShownUnits("ft", "mm")]
WHIPS = [pytest.param(STOCK, id="stock whip"), pytest.param(BULL, id="bullwhip")]
MM = {"in": Fraction(254, 10), "mm": Fraction(1), "cm": Fraction(10)}


def sheet_of(whip: Whip, shown: ShownUnits | None = None) -> BenchSheet:
    return bench_sheet(IN_FORCE, finished(whip), shown or ShownUnits("mm", "mm"))


def mm(text: str, sheet: BenchSheet) -> Fraction:
    """A place as somebody reads it: 30 1/2 of the unit in the head of the column."""
    return sum(map(Fraction, text.split()), Fraction(0)) * MM[sheet.length_unit]


def blocks_with_layers(sheet: BenchSheet, whip: Whip) -> list[tuple[LayerBlock, int, Layer]]:
    begun = [(slot, layer) for slot, layer in enumerate(whip.layers, 1) if layer.role != "binding"]
    return [(block, *one) for block, one in zip(sheet.layers, begun, strict=True)]


@pytest.mark.parametrize("whip", WHIPS)
@pytest.mark.parametrize("shown", UNITS)
def test_every_drop_stands_once_with_its_gap(whip: Whip, shown: ShownUnits) -> None:
    sheet = sheet_of(whip, shown)
    for block, _, layer in blocks_with_layers(sheet, whip):
        assert layer.schedule is not None
        steps = layer.schedule.steps
        told = [(mm(row.station, sheet), row.strands) for row in block.rows]
        counts = [round(step.total.mid) for step in steps]
        expected = [f"start {counts[0]}"]
        expected += [
            f"{before} to {after}" if after else f"{before} end{'s' if before == 1 else ''}"
            for before, after in pairwise(counts)
        ]
        if counts[-1]:
            expected.append(f"{counts[-1]} to the point")
        assert [strands for _, strands in told] == expected
        places = [step.place.mid_mm for step in steps]
        if counts[-1]:
            places.append(whip.thong_length_mm or 0.0)
        grid = 12.7 if sheet.length_unit == "in" else 10.0
        for (at, _), place in zip(told, places, strict=True):
            assert abs(float(at) - place) <= grid / 2 + 1e-9
        gaps = [mm(row.gap, sheet) for row in block.rows[1:]]
        assert gaps == [after - before for (before, _), (after, _) in pairwise(told)]
        assert block.rows[0].gap == ""


@pytest.mark.parametrize("whip", WHIPS)
@pytest.mark.parametrize("shown", UNITS)
def test_all_places_lie_on_the_grid_of_the_tape(whip: Whip, shown: ShownUnits) -> None:
    sheet = sheet_of(whip, shown)
    grid = Fraction(127, 10) if sheet.length_unit == "in" else Fraction(10)
    places = [row.station for block in sheet.layers for row in (*block.rows, *block.measures)]
    places += [row.gap for block in sheet.layers for row in block.rows if row.gap]
    assert len(places) > 40
    assert all(mm(place, sheet) % grid == 0 for place in places)
    said = " ".join(
        [*sheet.facts, *sheet.estimates, *(row.length for row in sheet.cut), *sheet.foundation.steps]
    )
    assert not re.search(r"\d/(4|8|16)\b", said)


@pytest.mark.parametrize("whip", WHIPS)
@pytest.mark.parametrize("shown", UNITS)
def test_nothing_is_measured_near_a_drop_or_on_the_transition(whip: Whip, shown: ShownUnits) -> None:
    sheet = sheet_of(whip, shown)
    for block, slot, layer in blocks_with_layers(sheet, whip):
        drops = [
            step.place.mid_mm
            for lower in whip.layers[:slot]
            if lower.schedule is not None
            for step in lower.schedule.steps
        ]
        stations = [float(mm(row.station, sheet)) for row in block.measures]
        assert stations == sorted(set(stations))
        if layer.role != "core":
            assert len(stations) >= 3
        for at in stations:
            assert min(abs(at - drop) for drop in drops) >= OFF_DROP_MM
            assert at <= (whip.thong_length_mm or 0.0) - OFF_DROP_MM
            if isinstance(whip.foundation, Foundation):
                assert at >= 100.0


def test_a_stated_transition_is_kept_free() -> None:
    sheet = bench_sheet(IN_FORCE, finished(BULL), ShownUnits("mm", "mm"), transition_mm=260.0)
    assert min(mm(row.station, sheet) for block in sheet.layers for row in block.measures) >= 260


@pytest.mark.parametrize("whip", WHIPS)
def test_an_inner_layer_is_expected_as_it_is_before_it_is_covered(whip: Whip) -> None:
    sheet = sheet_of(whip)
    plan = finished(whip)
    seen = 0
    for block, slot, _ in blocks_with_layers(sheet, whip):
        for row in block.measures:
            on = int(row.on_layer) if row.on_layer else len(whip.layers)
            assert on >= slot
            stack = stack_at(plan.whip, float(mm(row.station, sheet)), CORDS, on)
            (told,) = IN_FORCE.predict([Query(stack=stack, maker=whip.maker, inner=on < len(whip.layers))])
            assert row.interval == f"{told.low_90_mm:.1f}–{told.high_90_mm:.1f}"
            seen += 1
    assert seen > 10


def test_a_belly_is_measured_on_its_binding_as_far_as_that_goes() -> None:
    belly = sheet_of(BULL).layers[1]
    assert belly.after == ("Binding (layer 3): artificial sinew, 0.3 mm thick, from 0 to 760 mm.",)
    assert {row.on_layer for row in belly.measures if int(row.station) < 740} == {"3"}
    assert {row.on_layer for row in belly.measures if int(row.station) > 780} == {"2"}
    assert belly.weight.startswith("Weight after layer 3, g (about ")


def test_pieces_are_never_printed_shorter_than_they_must_be_and_totals_are_told() -> None:
    plan = finished(STOCK, stock_m={"Beck 2.5 mm": 10.0})
    sheet = bench_sheet(IN_FORCE, plan, ShownUnits("in", "mm"))
    for row, piece in zip(sheet.cut, plan.pieces, strict=True):
        feet, inches = re.fullmatch(r"(?:(\d+) ft)? ?(?:([\d /]+) in)?", row.length).groups()  # type: ignore[union-attr]
        length = int(feet or 0) * 304.8 + float(sum(map(Fraction, (inches or "0").split()))) * 25.4
        assert piece.length_mm - 1e-6 <= length < piece.length_mm + 12.7
        assert row.pieces == f"{piece.pieces} ×"
        assert row.letter == "A"
    (total,) = sheet.totals
    metres = sum(piece.pieces * piece.length_mm for piece in plan.pieces) / 1000
    assert total.metres == f"{metres:.1f} m"
    assert total.lacks == f"{metres - 10:.1f} m"
    assert total.price == f"{metres * 0.2:.2f}"


def test_cautions_belong_to_the_jobs_of_this_whip() -> None:
    loaded = replace(
        BULL.layers[2], role="core", what="steel shot in a sheath", thickness_mm=None, diameter_mm=9.0
    )
    with_shot = replace(STOCK, layers=(loaded, *STOCK.layers[1:]))
    jobs = {
        name: [job for job, _ in sheet_of(whip).cautions]
        for name, whip in (("stock", STOCK), ("bull", BULL), ("shot", with_shot))
    }
    assert jobs["stock"] == ["Cut", "Melt", "Pull"]
    assert jobs["bull"] == ["Cut", "Melt", "Pull", "Rod"]
    assert jobs["shot"] == ["Cut", "Melt", "Pull", "Load"]
    sheet = sheet_of(BULL)
    assert "qualified teacher" in sheet.defer
    assert sheet.caution == CAUTION
    assert all(CAUTION not in words for _, words in sheet.cautions)


def test_leather_is_not_melted() -> None:
    hide = {name: replace(one, material="kangaroo leather") for name, one in CORDS.items()}
    sheet = bench_sheet(IN_FORCE, finished(STOCK, hide), ShownUnits())
    assert [job for job, _ in sheet.cautions] == ["Cut", "Pull"]


def test_the_datum_stands_in_words_and_the_rod_is_begun_at_the_butt() -> None:
    bull, stock = sheet_of(BULL), sheet_of(STOCK)
    assert any("counted from the handle end of the thong (0)" in fact for fact in bull.facts)
    assert bull.layers[1].to_do == ("Begin with 10 strands of A (Ridge 4 mm), from the butt, over the rod.",)
    assert stock.layers[1].to_do == ("Begin with 12 strands of A (Beck 2.5 mm).",)
    assert bull.foundation.steps == ("Steel rod, 8.0 mm, 200 mm, from the butt to the handle end.",)
    assert bull.cords == (("A", "Ridge 4 mm"), ("B", "Fell 3 mm"))


@pytest.mark.parametrize("whip", WHIPS)
def test_what_is_noted_at_the_end_is_asked_in_the_order_of_recording(whip: Whip) -> None:
    sheet = sheet_of(whip)
    bench = Bench(today=dt.date(2026, 3, 1), cords=CORDS, units=ShownUnits("mm", "mm"))
    answers = (("label", "1"), ("type", whip.type or ""), ("status", "finished"), ("layer.1", "overlay 8A"))
    draft = Draft("new")
    for key, text in (*answers, ("cord.A", "Fell 3 mm")):
        draft = draft.with_answer(key, text)
    asked = [question.ask for question in questions(draft, bench)]
    noted = [*sheet.blanks_before, *sheet.blanks_after]
    assert [ask for ask in asked if ask in noted] == noted
    for words in ("Turn length", "Weight", "Balance point", "Hours of work", "Notes"):
        assert any(ask.startswith(words) for ask in sheet.blanks_after)


def test_findings_are_told_on_the_viewers_tape() -> None:
    plan = finished(STOCK)
    assert any(isinstance(one, OffTarget) for one in plan.misses)
    inches = " ".join(bench_sheet(IN_FORCE, plan, ShownUnits("in", "mm")).findings)
    assert re.search(r"Off the target, [\d /,to]+ in: ", inches)
    assert not re.search(r"\d\d+ mm", inches)
    both = " ".join(bench_sheet(IN_FORCE, plan, ShownUnits("in", "in")).findings)
    assert re.search(r"0\.\d{3} in too (thick|thin)", both)
    assert "mm" not in both


@given(
    st.lists(st.floats(0, 3000), max_size=30),
    st.lists(st.floats(0, 3000), max_size=30),
    st.floats(100, 3000),
    st.floats(0, 300),
    st.sampled_from(["mm", "in"]),
)
def test_measuring_places_keep_off_whatever_changes(
    changes: list[float], under: list[float], end: float, bare: float, unit: LengthUnit
) -> None:
    found = measuring_places((0.0, end), changes, bare, unit, under)
    assert found == sorted(set(found))
    grid = float(grid_of(unit))
    for at in found:
        assert bare <= at <= end - OFF_DROP_MM
        assert all(abs(at - change) >= OFF_DROP_MM for change in changes)
        assert abs(float(on_tape(at, unit)) - at) < 1e-6
        if any(abs(at - change) < OFF_DROP_MM for change in under):
            near = [at + k * grid for k in range(-4, 5)]
            better = [
                place
                for place in near
                if bare <= place <= end
                and all(abs(place - x) >= OFF_DROP_MM for x in (*changes, *under, 0, end))
            ]
            assert not better, "nearer than 20 mm to what changes inside only where nothing else is free"
    if not changes and not under and end - bare > 600:
        assert len(found) >= 3
        assert max(after - before for before, after in pairwise(found)) < 250


def test_over_a_core_of_close_drops_the_belly_is_measured_between_them() -> None:
    core = laid("core", "Ridge 4 mm", {k * 30.0: 24 - k for k in range(25)}, Fate("cut"))
    sheet = sheet_of(replace(BULL, layers=(core, *BULL.layers[1:])))
    assert sheet.layers[0].measures == (), "there is no place on such a core itself"
    for block in sheet.layers[1:]:
        places = [float(mm(row.station, sheet)) for row in block.measures]
        assert max(after - before for before, after in pairwise([100.0, *places])) <= 300
    for at in (float(mm(row.station, sheet)) for row in sheet.layers[1].measures):
        assert min(abs(at - k * 30.0) for k in range(25)) >= 10 or at > 720


def test_two_cords_in_one_layer_keep_their_letters() -> None:
    overlay = STOCK.layers[-1]
    assert overlay.schedule is not None
    steps = tuple(
        Step(step.place, (exactly(step.total.mid / 2), exactly(step.total.mid / 2)))
        for step in overlay.schedule.steps
        if round(step.total.mid) % 4 == 0
    )
    both = (LayerCord("Beck 2.5 mm"), LayerCord("Fell 3 mm"))
    whip = replace(
        STOCK, layers=(*STOCK.layers[:-1], replace(overlay, cords=both, schedule=StrandSchedule(steps)))
    )
    rows = sheet_of(whip).layers[-1].rows
    assert rows[0].strands == "start 8A+8B"
    assert (rows[1].strands, rows[1].fate) == ("16 to 12", "2A+2B: tuck 80 mm gutted")


def test_a_gutted_cord_is_cut_gutted() -> None:
    gutted = {**CORDS, "Beck 2.5 mm": cord("Beck 2.5 mm", 2.5, construction="gutted")}
    sheet = bench_sheet(IN_FORCE, finished(STOCK, gutted), ShownUnits())
    assert {row.made for row in sheet.cut} == {"gutted"}


def test_of_a_whip_on_the_bench_only_what_lies_ahead_is_printed() -> None:
    sheet = bench_sheet(
        IN_FORCE,
        finished(STOCK),
        ShownUnits("mm", "mm"),
        standing=Standing(slot=2, to_mm=500.0),
        point="the point is expected at 6.0 mm; 5.5 mm is out of reach",
    )
    assert sheet.about == "stock whip by Orrin (on the bench)"
    assert sheet.facts[-1] == "By what was measured the point is expected at 6.0 mm; 5.5 mm is out of reach."
    belly, overlay = sheet.layers
    assert [row.station for row in belly.rows if row.done] == ["0", "350", "480"]
    assert not any(row.done for row in overlay.rows)
    assert all(int(row.station) > 500 for row in belly.measures)
    assert {row.layer for row in sheet.cut} == {"3 overlay"}
    assert any("layer 2 (belly), plaited to 500 mm" in fact for fact in sheet.facts)
    assert not sheet.foundation.steps
    assert len(sheet.final) == len(overlay.measures)
    assert min(int(row.station) for row in sheet.final) < 100
