"""Readings in notation, worked by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.errors import NotationError
from plaitlog.models.notation import echo_readings, parse_readings, print_readings
from plaitlog.models.whip import Layer, Reading

LAYERS = tuple(Layer(role=role) for role in ("core", "belly", "belly", "binding", "overlay"))
Row = tuple[float | None, float]


def rows(text: str, **known: float | None) -> list[Row]:
    """Station in mm and diameter of every reading."""
    line = parse_readings(text, layers=LAYERS, **known)  # type: ignore[arg-type]
    return [(r.at_mm, r.diameter_mm or 0.0) for r in line.readings]


def test_an_even_run_with_pairs_gaps_and_doubts() -> None:
    line = parse_readings("in mm: 0 each 6: 19.2/18.8 17.9/17.7 16.4 _ 14.1? 12.6")
    assert [(r.at_mm, r.diameter_mm) for r in line.readings] == [
        (0, 19.2), (0, 18.8), (152.4, 17.9), (152.4, 17.7), (304.8, 16.4), (609.6, 14.1), (762, 12.6),
    ]  # fmt: skip
    assert [r.doubtful for r in line.readings] == [False] * 5 + [True, False]
    assert (line.unit, line.size_unit, line.findings) == ("in", "mm", ())


def test_named_places() -> None:
    line = parse_readings("in mm, waxed: thick 18,5; mid 13; p 7,2", point_mm=1830)
    assert [(r.place, r.at_mm, r.diameter_mm) for r in line.readings] == [
        ("thick", 0, 18.5), ("mid", 915, 13), ("point", 1830, 7.2),
    ]  # fmt: skip
    assert {r.condition for r in line.readings} == {"waxed"}
    butt = parse_readings("in mm: thick 18; mid 13", start_mm=200, point_mm=2030)
    assert [r.at_mm for r in butt.readings] == [200, 1115]
    unknown = parse_readings("in mm: thick 18; mid 13; p 7", start_mm=None)
    assert [r.at_mm for r in unknown.readings] == [None, None, None]


def test_readings_of_an_inner_layer() -> None:
    line = parse_readings("in mm, core, fresh: 0: 15.4; 12: 13.9/13.5; 24: 11.8", layers=LAYERS)
    assert [(r.at_mm, r.diameter_mm) for r in line.readings] == [
        (0, 15.4), (304.8, 13.9), (304.8, 13.5), (609.6, 11.8),
    ]  # fmt: skip
    assert {(r.after_layer, r.condition) for r in line.readings} == {(1, "fresh")}


def test_girth_with_a_tape() -> None:
    line = parse_readings("in girth mm, tape 0.3: 6: 55.5; p 24", point_mm=1830)
    assert [(r.girth_mm, r.tape_mm, r.diameter_mm) for r in line.readings] == [
        (55.5, 0.3, None),
        (24, 0.3, None),
    ]
    assert line.readings[0].size_mm == pytest.approx(55.5 / 3.141592653589793 - 0.3)


@pytest.mark.parametrize(
    ("head", "after_layer"),
    [("core", 1), ("belly 1", 2), ("second belly", 3), ("belly 2", 3), ("binding", 4), ("overlay", 5),
     ("layer 4", 4), ("finished", None)],
)  # fmt: skip
def test_the_layer_a_head_names(head: str, after_layer: int | None) -> None:
    line = parse_readings(f"in mm, {head}, broken in: 0: 15.4", layers=LAYERS)
    assert (line.readings[0].after_layer, line.readings[0].condition) == (after_layer, "broken in")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("mm: 0: 14; 300: 13", [(0, 14), (300, 13)]),
        ("in mm: 0, 6, 12: 14 13.5 _", [(0, 14), (152.4, 13.5)]),
        ("in mm: 0: 14 13.8, 13.9", [(0, 14), (0, 13.8), (0, 13.9)]),
        ("in mm: 0: 14 / 13.8", [(0, 14), (0, 13.8)]),
        ("in mm: 0: 19/18", [(0, 19), (0, 18)]),
        ("in mm: 0: 18,5 17,5", [(0, 18.5), (0, 17.5)]),
        ("in in: 0: 3/4 13/16", [(0, 19.05), (0, 20.6375)]),
        ("in in: 0: 0.75/0.7", [(0, 19.05), (0, 17.78)]),
        ("cm mm: 0 each 7,5: 14 13", [(0, 14), (75, 13)]),
        ("in mm: 1' 6 1/2: 14", [(469.9, 14)]),
        ("in mm: p8: 7", [(1626.8, 7)]),
        ("in mm: p: 7", [(1830, 7)]),
        ("in mm: 0: 14\nin mm, waxed: 0: 13.9", [(0, 14), (0, 13.9)]),
    ],
)
def test_ways_of_noting_a_reading(text: str, expected: list[Row]) -> None:
    assert rows(text, point_mm=1830) == expected


def test_a_line_without_a_head_takes_the_declared_units() -> None:
    line = parse_readings("6: 15.4", unit="in", size_unit="mm")
    assert line.readings == (Reading(at_mm=152.4, diameter_mm=15.4),)


def test_an_uncertain_place_is_taken_at_its_middle_with_a_finding() -> None:
    line = parse_readings("in mm: ~12: 13; 20..24: 11")
    assert [r.at_mm for r in line.readings] == [304.8, pytest.approx(22 * 25.4)]
    assert [finding.code for finding in line.findings] == ["place-uncertain"] * 2


@pytest.mark.parametrize(
    ("text", "code", "where"),
    [
        ("", "line-empty", ""),
        ("in: 0: 14", "unit-missing", "character 1"),
        ("0: 14", "unit-missing", "character 1"),
        ("in mm, belly: 0: 14", "layer-unknown", "character 8"),
        ("in mm, belly 3: 0: 14", "layer-unknown", "character 8"),
        ("in mm, bolster: 0: 14", "layer-unknown", "character 8"),
        ("in mm, layer 6: 0: 14", "layer-unknown", "character 8"),
        ("in mm, soaked: 0: 14", "head-unknown", "character 8"),
        ("in mm, tape 0.3: 0: 14", "tape", "character 8"),
        ("in mm: 14", "place-missing", "character 8"),
        ("in mm: ?: 14", "place-unknown", "character 8"),
        ("in mm: 0, 6: 14", "values-count", "character 8"),
        ("in mm: 0 each 0: 14", "each-spacing", "character 8"),
        ("in mm: 0:", "size-missing", "character 10"),
        ("in mm: 0: 14.x", "size-unreadable", "character 11"),
        ("in mm: 0: 19.2,18.8", "size-unreadable", "character 11"),
        ("in mm: 0: -3", "size-unreadable", "character 11"),
        ("in mm: 0: 0", "size-absurd", "character 11"),
        ("in mm: 0: 300", "size-absurd", "character 11"),
        ("in mm: 0: nan", "size-unreadable", "character 11"),
        ("in mm: p8: 7", "point-unknown", "character 8"),
        ("in mm: 0: 14\nin mm: 6: q", "size-unreadable", "line 2, character 11"),
    ],
)
def test_a_refusal_names_the_character_and_the_remedy(text: str, code: str, where: str) -> None:
    with pytest.raises(NotationError) as caught:
        parse_readings(text, layers=LAYERS)
    finding = caught.value.finding
    assert (finding.code, finding.where) == (code, where)
    assert finding.remedy


def test_a_layer_by_name_needs_the_layers() -> None:
    with pytest.raises(NotationError, match="note the layers first"):
        parse_readings("in mm, belly: 0: 14")
    assert parse_readings("in mm, layer 2: 0: 14").readings[0].after_layer == 2


@given(
    st.text(max_size=60) | st.text("inm:; 0123456789./,_?~each thickp", max_size=60).map("in mm: {}".format)
)
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        line = parse_readings(text, layers=LAYERS, point_mm=1830)
    except NotationError as error:
        finding = error.finding
    else:
        if line.readings:
            assert parse_readings(print_readings(line.readings), point_mm=1830).readings == line.readings
        return
    assert finding.text
    assert finding.remedy


def test_the_echo_in_words() -> None:
    line = parse_readings("in mm, core, fresh: 0: 15.4; 12: 13.9/13.5?; p 11.8", layers=LAYERS, point_mm=1830)
    assert echo_readings(line.readings, layers=LAYERS) == (
        "4 readings, over the core, fresh: "
        "at 0 in 15.4 mm; at 12 in 13.9 and 13.5 (doubtful) mm; at the point 11.8 mm"
    )
    line = parse_readings("in girth mm, tape 0.3: 6: 55.5")
    assert echo_readings(line.readings) == "1 reading by tape, tape 0.3 mm: at 6 in 55.5 mm"
