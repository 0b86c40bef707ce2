"""Layers as they stand in a file: patterns by place, notation beside steps, cords by letter."""

from typing import Any

from plaitlog.models.errors import Finding
from plaitlog.models.whip import Fate, Layer, Place, Span, Step
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.from_layers import layers_from
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.to_layer_records import layer_record

RIDGE = "Ridge 4 mm"
POINT_MM = 1800.0


def read(*layers: dict[str, Any], **keys: Any) -> tuple[list[Layer], tuple[Finding, ...]]:
    record = WhipRecord.model_validate({"label": "w", "layers": list(layers), **keys})
    refusals = Refusals()
    found = layers_from(record, POINT_MM, refusals)
    assert refusals.findings == []
    return list(found.layers), found.findings


def steps(layer: Layer) -> tuple[Step, ...]:
    assert layer.schedule is not None
    return layer.schedule.steps


def overlay(**keys: Any) -> dict[str, Any]:
    return {"role": "overlay", "cord": RIDGE, **keys}


def test_a_pattern_between_two_steps_makes_a_step() -> None:
    (layer,), _ = read(overlay(strands=[[0, 16], [900, 12]], pattern=[[0, "u4o4"], [500, "U2O2U2O2"]]))
    assert [(s.place.low_mm, s.total.low, s.pattern) for s in steps(layer)] == [
        (0, 16, "u4o4"),
        (500, 16, "u2o2u2o2"),
        (900, 12, None),
    ]


def test_a_pattern_goes_to_the_step_at_its_place_not_to_a_near_one() -> None:
    (layer,), _ = read(overlay(strands=[[0, 16], [900, 14], [900.2, 12]], pattern=[[900.2, "u3o3"]]))
    assert [s.pattern for s in steps(layer)] == [None, None, "u3o3"]
    (layer,), _ = read(overlay(strands=[[0, 16], [900, 14]], pattern=[[900.3, "u3o3"]]))
    assert [s.pattern for s in steps(layer)] == [None, "u3o3"], "rounded"


def test_patterns_at_places_not_noted_keep_their_order() -> None:
    strands = [[0, 16], [None, 14], [None, 12]]
    (layer,), _ = read(overlay(strands=strands, pattern=[[None, None], [None, "u3o3"]]))
    assert [s.pattern for s in steps(layer)] == [None, None, "u3o3"]
    assert layer_record(layer)["pattern"] == [[None, None], [None, "u3o3"]]
    (layer,), _ = read(overlay(strands=strands, pattern=[[None, "u3o4"]]))
    assert [s.pattern for s in steps(layer)] == [None, "u3o4", None]


def test_one_pattern_is_that_of_the_first_step() -> None:
    (layer,), _ = read(overlay(strands=[[0, 16], [900, 12]], pattern="u4o4"))
    assert [s.pattern for s in steps(layer)] == ["u4o4", None]
    assert layer_record(layer)["pattern"] == [[0, "u4o4"]]


def test_a_pattern_without_strands_is_kept() -> None:
    (layer,), _ = read(overlay(pattern="16 of them, over two under two"))
    assert layer.schedule is None
    assert layer_record(layer)["pattern"] == "16 of them, over two under two"


def test_places_not_noted_lie_between_their_neighbours_or_the_point() -> None:
    (layer,), _ = read(overlay(strands=[[0, 16], [None, 14], [[700, 860], 12], [None, 8]]))
    assert [s.place for s in steps(layer)] == [
        Place(0, 0),
        Place(0, 860, "not noted"),
        Place(700, 860, "between"),
        Place(700, POINT_MM, "not noted"),
    ]


def test_notation_beside_steps_says_how_vague_places_are() -> None:
    strands = [[0, 16], [[483, 533], 14], [900, 8, "run"]]
    (layer,), _ = read(overlay(strands=strands, strands_text="mm: 16; ~508: -2 cut; 900: -6; ?"))
    assert [s.place.kind for s in steps(layer)] == ["at", "about", "at"]
    assert [s.fate for s in steps(layer)] == [None, None, Fate("run")], "fates as the steps have them"
    assert layer.schedule is not None
    assert layer.schedule.rest == "not noted"


def test_notation_beside_steps_gives_what_the_steps_leave_out() -> None:
    (layer,), _ = read(overlay(strands=[[0, 16], [900, 8]], strands_text="mm: 16 u4o4; 900: -8 run; p"))
    assert (layer.fate, steps(layer)[0].pattern) == (Fate("run"), "u4o4")


def test_cords_have_letters_by_order_of_mention_where_notation_is_used() -> None:
    core = {"role": "core", "cord": "Fell 3 mm", "strands": [[0, 6]]}
    both = {"role": "overlay", "cords": [{"cord": RIDGE}, {"cord": "Fell 3 mm"}], "strands": "in: 8A+6B; p"}
    (first, second), _ = read(core, both)
    assert [c.letter for c in first.cords] == ["A"]
    assert {c.cord: c.letter for c in second.cords} == {RIDGE: "B", "Fell 3 mm": "A"}
    assert dict(zip([c.cord for c in second.cords], steps(second)[0].counts, strict=True)) == {
        "Fell 3 mm": Span(8, 8),
        RIDGE: Span(6, 6),
    }


def test_letters_may_be_named_for_the_whole_whip() -> None:
    (layer,), _ = read(
        {"role": "overlay", "strands": "in: 8A+8C; 30: -2A -2C; p"}, letters={"a": RIDGE, "C": "Fell 3 mm"}
    )
    assert [(c.cord, c.letter, c.share) for c in layer.cords] == [(RIDGE, "A", 8), ("Fell 3 mm", "C", 8)]


def test_a_line_without_a_closing_is_taken_with_a_finding() -> None:
    _, findings = read(overlay(strands="in: 16; 30: -2"))
    assert [(f.where, f.code) for f in findings] == [("layers 1, strands", "closing-assumed")]


def test_a_lot_belongs_to_a_cord() -> None:
    noted = [
        overlay(strands=[[0, 16]], lot="2026-02"),
        {
            "role": "overlay",
            "cords": [{"cord": RIDGE, "lot": "a"}, {"cord": "Fell 3 mm"}],
            "strands": [[0, 16]],
        },
        {"role": "overlay", "strands": "mm: 16A; p", "lot": "2026-07"},
    ]
    layers, _ = read(*noted, letters={"A": RIDGE})
    assert [[cord.lot for cord in layer.cords] for layer in layers] == [["2026-02"], ["a", None], ["2026-07"]]
    assert [layer_record(layer).get("lot") for layer in layers] == ["2026-02", None, "2026-07"]
    assert layer_record(layers[1])["cords"] == [
        {"cord": RIDGE, "share": 1, "lot": "a"},
        {"cord": "Fell 3 mm", "share": 1},
    ]


def test_a_lot_beside_no_cord_or_several_is_refused() -> None:
    several = [{"cord": RIDGE}, {"cord": "Fell 3 mm"}]
    for layer in ({"strands": [[0, 16]]}, {"strands": [[0, 16]], "cords": several}):
        record = WhipRecord.model_validate(
            {"label": "w", "layers": [{"role": "overlay", "lot": "a", **layer}]}
        )
        refusals = Refusals()
        layers_from(record, POINT_MM, refusals)
        assert [finding.code for finding in refusals.findings] == ["lot-of-what"]
