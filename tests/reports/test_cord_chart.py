"""Chart of a cord: curves are what predict says, readings lie where the axis puts them, names are text."""

import io
import json
import re
import xml.etree.ElementTree as ET
from itertools import pairwise
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import InputError, NotFoundError
from plaitlog.service.database import reading, writing
from plaitlog.service.reports.chart_marks import SHADES
from plaitlog.service.reports.cord_chart import CordChart, to_svg, to_table
from plaitlog.service.usecases.fitting import gather, store, work_out
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.pictures.charting import MOST_READINGS, cord_chart
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.predicting_lines import answer_lines
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_by_name
from tests.usecases.examples import FELL, RIDGE

HOSTILE = "<script>alert(\"1\")</script> & 'so' on " + "and on " * 10
PLAIT: dict[str, Any] = {
    "kind": "whip", "label": "plait", "maker": "Orrin", "type": "test plait", "status": "finished",
    "thong_length_mm": 200, "foundation": {"diameter_mm": 8, "to_mm": 200},
    "layers": [{"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 14], [100, 12]]}],
    "readings": [{"at_mm": 50, "diameter_mm": 16.1}, {"at_mm": 150, "diameter_mm": 15.0}],
}  # fmt: skip
WHIP: dict[str, Any] = {
    "kind": "whip", "label": "whip", "maker": "Orrin", "status": "finished", "thong_length_mm": 1500,
    "layers": [
        {"role": "core", "cord": "Fell 3 mm", "strands": [[0, 6], [700, 0]]},
        {"role": "belly", "cord": "Ridge 4 mm", "strands": [[0, 10], [900, 0]]},
        {"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 18], [1000, 8]]},
    ],
    "readings": [
        {"at_mm": 100, "diameter_mm": 21.4}, {"at_mm": 400, "diameter_mm": 22.4, "doubtful": True},
        {"at_mm": 300, "diameter_mm": 13.0, "after_layer": 2},
        {"at_mm": 200, "diameter_mm": 6, "after_layer": 1},
        {"at_mm": 1200, "diameter_mm": 11.3},
    ],
}  # fmt: skip


@pytest.fixture
def workshop(sqlite_engine: Engine) -> Engine:
    """Two cords with readings, one nobody plaited, no fit."""
    new = {**FELL, "name": HOSTILE.strip()}
    with writing(sqlite_engine) as session:
        take_records(session, [RIDGE, FELL, new, PLAIT, WHIP])
    return sqlite_engine


def chart_of(engine: Engine, name: str = "Ridge 4 mm", **keys: Any) -> CordChart:
    with reading(engine) as session:
        return cord_chart(session, name, **keys)


def fitted(engine: Engine) -> None:
    with reading(engine) as session:
        worked = work_out(gather(session), with_evidence=False)
    with writing(engine) as session:
        store(session, worked)


@pytest.mark.parametrize("with_fit", [False, True])
def test_every_point_is_what_predict_says_of_the_same_stack(workshop: Engine, with_fit: bool) -> None:
    if with_fit:
        fitted(workshop)
    keys = {"maker": "Orrin", "condition": "waxed", "pattern": "u3o3"}
    chart = chart_of(workshop, **keys)
    points = [(curve.over_mm, point) for curve in chart.curves for point in curve.points]
    lines = [
        json.dumps(
            {
                "maker": "Orrin", "condition": "waxed", "foundation_mm": over or None,
                "layers": [
                    {"role": "overlay", "cord": "Ridge 4 mm", "strands": point.strands, "pattern": "u3o3"}
                ],
            }
        )
        for over, point in points
    ]  # fmt: skip
    with reading(workshop) as session:
        asked = io.BytesIO("\n".join(lines).encode())
        found = answer_lines(fit_in_force(session), cords_by_name(session), asked, limit_bytes=10_000)
        answers = [line for batch in found for line in batch]
    assert len(answers) == len(points) > 20
    for (_, point), answer in zip(points, answers, strict=True):
        told = (point.diameter_mm, point.low_90_mm, point.high_90_mm, point.cover)
        keys_of = ("diameter_mm", "low_90_mm", "high_90_mm", "cover")
        assert told == pytest.approx([answer[key] for key in keys_of], rel=1e-9)


def test_readings_are_those_on_plaits_of_the_cord_with_the_body_under_them(workshop: Engine) -> None:
    found = {(one.whip, one.at_mm): one for one in chart_of(workshop).readings}
    assert {key: (one.strands, one.mark) for key, one in found.items()} == {
        ("plait", 50): (14, "test plait"), ("plait", 150): (12, "test plait"), ("whip", 100): (18, "reading"),
        ("whip", 400): (18, "doubtful"), ("whip", 300): (10, "reading"), ("whip", 1200): (8, "reading"),
    }  # fmt: skip
    # Over the foundation, over nothing, and over what the core and belly are expected to measure.
    assert found["plait", 50].over_mm == 8
    assert found["whip", 1200].over_mm == 0
    assert 0 < found["whip", 300].over_mm < found["whip", 100].over_mm
    assert all(one.expected_mm > one.over_mm for one in found.values())


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_readings_lie_where_the_axis_puts_them(workshop: Engine, unit: Any) -> None:
    chart = chart_of(workshop, shown=ShownUnits("in", unit))
    root = ET.fromstring(to_svg(chart))
    heights = axis(root, f"finished diameter ({unit})")
    per_mm = 1 / 25.4 if unit == "in" else 1.0
    wanted = sorted(one.diameter_mm * per_mm for one in chart.readings)
    found = sorted(value_at(heights, y) for y in marks(root))
    assert found == pytest.approx(wanted, abs=1e-3 * wanted[-1])


def axis(root: ET.Element, name: str) -> dict[float, float]:
    """Values of an axis and their heights, read off its labels and ticks."""
    group = next(
        x for x in root.iter() if name in (x.get("aria-label") or "") and x.get("class") != "background"
    )
    labels = next(x for x in group.iter() if "role-axis-label" in (x.get("class") or ""))
    ticks = next(x for x in group.iter() if "role-axis-tick" in (x.get("class") or ""))
    assert len(labels) == len(ticks) > 4
    return {
        float(label.text or ""): float(re.findall(r"-?[\d.]+", tick.get("transform") or "")[1])
        for label, tick in zip(labels, ticks, strict=True)
    }


def marks(root: ET.Element) -> list[float]:
    """Heights of the readings' symbols, without those of the legend."""
    return [
        float(re.findall(r"-?[\d.]+", x.get("transform") or "")[1])
        for x in root.iter()
        if "mark:" in (x.get("aria-label") or "")
    ]


def value_at(axis: dict[float, float], y: float) -> float:
    (first, high), *_, (last, low) = sorted(axis.items())
    return first + (last - first) * (y - high) / (low - high)


def test_shades_can_be_told_apart_without_colour() -> None:
    """Relative luminance rises from shade to shade; all stand out from white by 3 : 1 (WCAG 2.1, 1.4.11)."""

    def luminance(shade: str) -> float:
        parts = [int(shade[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts]
        return sum(weight * x for weight, x in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    found = [luminance(shade) for shade in SHADES]
    assert all((b + 0.05) / (a + 0.05) > 1.3 for a, b in pairwise(found))
    assert 1.05 / (found[-1] + 0.05) >= 3


def test_without_a_fit_the_picture_says_what_it_rests_on(workshop: Engine) -> None:
    chart = chart_of(workshop, "Fell")
    said = words(to_svg(chart))
    assert "No fit is stored: this rests on geometry and common sense alone" in said
    assert "Predictions are estimates; measure while you build." in said
    assert "no-fit" in {finding.code for finding in chart.findings}
    assert "finished diameter (mm)" in said
    assert "strands in the plait" in said


def test_a_stale_fit_and_a_new_cord_are_said_in_the_picture(workshop: Engine) -> None:
    fitted(workshop)
    with writing(workshop) as session:
        take_records(session, [{"kind": "reading", "whip": "plait", "at_mm": 60, "diameter_mm": 16.0}])
    chart = chart_of(workshop, HOSTILE.strip())
    said = words(to_svg(chart))
    assert "Whips, readings or cords changed since the fit was made" in said
    assert "has no reading in the fit" in said
    assert "No reading on a plait of this cord is recorded." in said
    assert {"stale-fit", "new-cord"} <= {finding.code for finding in chart.findings}


def words(picture: str) -> str:
    return " ".join(x.text or "" for x in ET.fromstring(picture).iter())


def test_a_hostile_name_is_text_and_the_bytes_are_the_same_again(workshop: Engine) -> None:
    picture = to_svg(chart_of(workshop, HOSTILE.strip()))
    assert "<script" not in picture
    assert "<script>alert(" in words(picture)
    assert picture == to_svg(chart_of(workshop, HOSTILE.strip()))


def test_the_table_holds_the_numbers_of_the_curves(workshop: Engine) -> None:
    chart = chart_of(workshop)
    heads, rows = to_table(chart)
    assert heads[1:] == ("over nothing", "over 4.0 mm", "over 8.0 mm", "over 12.0 mm", "over 16.0 mm")
    for column, curve in enumerate(chart.curves, start=1):
        cells = {row[0]: row[column] for row in rows if row[column]}
        assert list(cells) == [str(point.strands) for point in curve.points]
        for point in curve.points:
            cell = cells[str(point.strands)]
            assert f"{point.diameter_mm:.1f}  {point.low_90_mm:.1f}-{point.high_90_mm:.1f}" in cell
            assert cell.startswith("(") == (not point.lies_well)


def test_bodies_are_round_in_the_units_shown(workshop: Engine) -> None:
    chart = chart_of(workshop, shown=ShownUnits("in", "in"))
    assert [curve.over_mm / 25.4 for curve in chart.curves] == pytest.approx(
        [0, 3 / 16, 3 / 8, 9 / 16, 3 / 4]
    )
    assert "finished diameter (in)" in words(to_svg(chart))


def test_one_body_gives_a_row_a_count_with_its_cover(workshop: Engine) -> None:
    chart = chart_of(workshop, over_mm=(8.0,))
    heads, rows = to_table(chart)
    assert heads == ("strands", "finished, over 8.0 mm", "90 %", "cover")
    assert [row[0] for row in rows] == [str(point.strands) for point in chart.curves[0].points]
    diameters = [point.diameter_mm for point in chart.curves[0].points]
    assert diameters == sorted(diameters)


def test_thicker_bodies_come_out_thicker_at_every_count(workshop: Engine) -> None:
    for thin, thick in pairwise(chart_of(workshop).curves):
        there = {point.strands: point.diameter_mm for point in thin.points}
        for point in thick.points:
            assert point.diameter_mm > there.get(point.strands, 0)
            assert point.low_90_mm < point.diameter_mm < point.high_90_mm


def test_of_very_many_readings_some_are_drawn_and_all_counted(workshop: Engine) -> None:
    many = [{"at_mm": k / 10, "diameter_mm": 15.9 + (k % 7) / 10} for k in range(MOST_READINGS + 50)]
    with writing(workshop) as session:
        take_records(session, [{**PLAIT, "label": "much measured", "readings": many}])
    chart = chart_of(workshop)
    assert len(chart.readings) == MOST_READINGS
    assert chart.readings_in_all == MOST_READINGS + 50 + 6
    assert f"{MOST_READINGS} of {chart.readings_in_all} readings, evenly chosen" in words(to_svg(chart))


def test_what_is_no_cord_or_no_pattern_is_refused(workshop: Engine) -> None:
    with pytest.raises(NotFoundError, match="no cord 'Rigde 4 mm' is in the workshop; did you mean"):
        chart_of(workshop, "Rigde 4 mm")
    with pytest.raises(InputError, match="no pattern"):
        chart_of(workshop, pattern="twill")


def test_a_slip_of_the_pen_is_named_and_does_not_press_the_others_together(workshop: Engine) -> None:
    before = axis(ET.fromstring(to_svg(chart_of(workshop))), "finished diameter (mm)")
    slip = {"kind": "reading", "whip": "whip", "at_mm": 1300, "diameter_mm": 113.0}
    with writing(workshop) as session:
        take_records(session, [slip])
    chart = chart_of(workshop)
    root = ET.fromstring(to_svg(chart))
    assert axis(root, "finished diameter (mm)") == before
    assert len(marks(root)) == len(chart.readings) - 1
    assert "not drawn: 113.0 for " in words(to_svg(chart))
