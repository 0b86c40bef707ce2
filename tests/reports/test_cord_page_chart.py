"""The chart of a cord on a page: what lies where, what is told by more than colour, what is left out."""

import itertools
import xml.etree.ElementTree as ET
from collections.abc import Sequence

from plaitlog.service.reports.cord_chart import ChartCurve, ChartPoint, ChartReading, CordChart, Mark
from plaitlog.service.reports.cord_page_chart import readings_drawn, to_page_svg
from plaitlog.service.usecases.shown_units import ShownUnits


def point(strands: int, diameter_mm: float, *, well: bool = True) -> ChartPoint:
    return ChartPoint(
        strands=strands,
        diameter_mm=diameter_mm,
        low_90_mm=diameter_mm - 1,
        high_90_mm=diameter_mm + 1,
        cover=0.9,
        lies_well=well,
    )


def curve(over_mm: float, first_mm: float) -> ChartCurve:
    points = [point(n, first_mm + n / 4, well=n > 8) for n in (4, 8, 12, 16)]
    return ChartCurve(over_mm, tuple(points))


def reading(strands: float, diameter_mm: float, mark: Mark = "reading", over_mm: float = 8.0) -> ChartReading:
    return ChartReading(
        whip="<2026-014>",
        at_mm=200,
        strands=strands,
        over_mm=over_mm,
        diameter_mm=diameter_mm,
        expected_mm=14,
        mark=mark,
    )


def chart(curves: Sequence[ChartCurve], readings: Sequence[ChartReading] = ()) -> CordChart:
    return CordChart(
        cord="Ridge & <4> mm",
        curves=tuple(curves),
        readings=tuple(readings),
        shown=ShownUnits(),
        rests_on="",
        caution="",
    )


def drawn(told: CordChart) -> ET.Element:
    return ET.fromstring(to_page_svg(told))


def labels(root: ET.Element) -> list[tuple[str, float]]:
    return [
        (one.text or "", float(one.get("y", "0")))
        for one in root.iter()
        if one.tag.endswith("text") and (one.text or "").startswith("over ")
    ]


def test_curves_are_dashed_where_strands_do_not_lie_well() -> None:
    root = drawn(chart([curve(8, 10)]))
    strokes = [one for one in root.iter() if one.get("class") == "target"]
    assert [one.get("stroke-dasharray") for one in strokes] == ["4 4", "4 4", "none"]


def test_thicker_bodies_are_paler_and_each_curve_is_named_apart_from_the_others() -> None:
    root = drawn(chart([curve(0, 10), curve(4, 10.1), curve(8, 10.2), curve(12, 18)]))
    shades = [float(one.get("opacity", "1")) for one in root.iter() if one.get("class") == "target"]
    assert shades == sorted(shades, reverse=True)
    assert len(set(shades)) == 4
    named = labels(root)
    assert {words for words, _ in named} == {"over nothing", "over 4.0 mm", "over 8.0 mm", "over 12.0 mm"}
    heights = sorted(y for _, y in named)
    assert min(b - a for a, b in itertools.pairwise(heights)) >= 12


def test_readings_name_themselves_and_test_plaits_and_doubtful_ones_have_a_shape_of_their_own() -> None:
    root = drawn(
        chart([curve(8, 10)], [reading(12, 14), reading(16, 15, "test plait"), reading(8, 12, "doubtful")])
    )
    titles = [one.text or "" for one in root.iter() if one.tag.endswith("title")]
    assert titles[0] == "Ridge & <4> mm: finished diameter against strand count"
    assert "<2026-014> at 7 7/8 in: 12 strands over 8.0 mm, 14.0 mm read, 14.0 mm expected" in titles
    kinds = [one.get("class") for one in root.iter() if one.get("class") in {"in", "out", "new"}]
    assert sorted(filter(None, kinds)) == ["in", "new", "out"]


def test_a_slip_of_the_pen_is_not_drawn_nor_a_reading_on_another_body_beside_a_single_curve() -> None:
    there = [reading(12, 14), reading(12, 140), reading(12, 15, over_mm=11)]
    assert [one.diameter_mm for one in readings_drawn(chart([curve(8, 10)], there))] == [14]
    assert len(readings_drawn(chart([curve(8, 10), curve(11, 12)], there))) == 2


def test_only_even_counts_are_marked_and_nothing_lies_outside() -> None:
    root = drawn(chart([curve(8, 10)], [reading(12, 14)]))
    small = [one for one in root.iter() if one.get("class") == "small" and one.get("text-anchor") == "middle"]
    assert [int(one.text or "") % 2 for one in small] == [0] * len(small)
    width, height = (float(x) for x in root.get("viewBox", "").split()[2:])
    for one in root.iter():
        for name, most in (("x", width), ("cx", width), ("y", height), ("cy", height)):
            assert 0 <= float(one.get(name, "0")) <= most
