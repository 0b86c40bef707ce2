"""Predicting a stack on a page: the same numbers as elsewhere, from layers or from a line, and why."""

from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from starlette.testclient import TestClient

from plaitlog.service.usecases.stack_rows import FIELDS
from tests.api.server import API, given

RIDGE, FELL = "Ridge 4 mm", "Fell 3 mm"
LAYERS = [
    {"role": "core", "cord": RIDGE, "strands": "6"},
    {"role": "binding", "size": "0.2 mm"},
    {
        "role": "overlay",
        "cord": RIDGE,
        "strands": "8",
        "cord_2": FELL,
        "strands_2": "8",
        "pattern": "u2o2u2o2",
    },
]
LINE = "core 6A; binding 0.2 mm; overlay 8A+8B u2o2u2o2"
CORDS = f"A = {RIDGE}; B = {FELL}"
QUESTION = {
    "maker": "Orrin",
    "layers": [
        {"role": "core", "cord": RIDGE, "strands": 6},
        {"role": "binding", "thickness_mm": 0.2},
        {
            "role": "overlay",
            "cords": [{"cord": RIDGE, "share": 8}, {"cord": FELL, "share": 8}],
            "strands": 16,
            "pattern": "u2o2u2o2",
        },
    ],
}


def form(layers: list[dict[str, str]], **beside: str) -> dict[str, Any]:
    """The form of the page, each layer with all its fields."""
    said = {
        **dict.fromkeys(("line", "cords", "line_was", "cords_was", "maker", "for", "over", "of"), ""),
        **beside,
    }
    return {**{name: [layer.get(name, "") for layer in layers] for name in FIELDS}, **said}


def sent(client: TestClient, layers: list[dict[str, str]], **beside: str) -> dict[str, Any]:
    """What the page shows of a form, whether it could be answered or not."""
    answer = client.post("/predict", params={"as": "json"}, data=form(layers, **beside))
    found: dict[str, Any] = answer.json()
    return found


def test_layers_and_their_line_say_what_the_interface_says(demo: TestClient) -> None:
    told = given(demo.post(f"{API}/predictions", json={"questions": [QUESTION]}))["answers"][0]
    answer = demo.post("/predict", data=form(LAYERS, maker="Orrin"), follow_redirects=False)
    assert answer.status_code == 303
    kept = answer.headers["location"]
    assert parse_qs(urlsplit(kept).query) == {"stack": [LINE], "A": [RIDGE], "B": [FELL], "maker": ["Orrin"]}
    by_address = given(demo.get(kept, params={**parse_qs(urlsplit(kept).query), "as": "json"}))
    by_line = sent(demo, [], line=LINE, cords=CORDS, maker="Orrin", do="look")
    for found in (by_address, by_line):
        for key in ("diameter_mm", "low_90_mm", "high_90_mm"):
            assert found["answer"][key] == told[key]
        assert [{k: v for k, v in row.items() if v} for row in found["rows"]] == LAYERS
    assert {one["code"] for one in told["findings"]} == {one["code"] for one in by_line["answer"]["findings"]}


def test_the_line_wins_only_where_it_was_changed(demo: TestClient) -> None:
    shown = sent(demo, LAYERS, do="look")["typed"]
    thinner = [*LAYERS[:2], {"role": "overlay", "cord": RIDGE, "strands": "12"}]
    was = {"line": LINE, "cords": CORDS, "line_was": shown["line_was"], "cords_was": shown["cords_was"]}
    assert sent(demo, thinner, **was, do="look")["typed"]["line"] == "core 6A; binding 0.2 mm; overlay 12A"
    changed = sent(demo, thinner, **{**was, "line": "core 4A; overlay 10A"}, do="look")
    assert [row["strands"] for row in changed["rows"]] == ["4", "10"]


def test_layers_are_added_moved_and_removed_where_the_button_says(demo: TestClient) -> None:
    def roles(do: str) -> list[str]:
        return [row["role"] for row in sent(demo, LAYERS, do=do)["rows"]]

    assert roles("add") == ["core", "binding", "overlay", "overlay"]
    assert roles("remove-2") == ["core", "overlay"]
    assert roles("in-3") == ["core", "overlay", "binding"]
    assert roles("out-1") == ["binding", "core", "overlay"]
    assert roles("in-1") == roles("out-3") == roles("remove-9") == ["core", "binding", "overlay"]


def test_shares_of_the_cross_section_add_up_and_follow_the_fibre(demo: TestClient) -> None:
    layers = sent(demo, [{"role": "foundation", "size": "8"}, *LAYERS], do="look")["answer"]["layers"]
    assert [layer["name"] for layer in layers] == ["foundation", "core", "binding", "overlay"]
    assert sum(layer["share_of_whole"] for layer in layers) == pytest.approx(1.0)
    # A rod of 8 mm takes (8 / D)^2 of a whip of D mm.
    assert layers[0]["share_of_whole"] == pytest.approx((8 / float(layers[-1]["outer"])) ** 2, rel=0.01)
    assert layers[3]["made_of"] == "8 strands of Ridge 4 mm and 8 of Fell 3 mm"
    more = sent(demo, [LAYERS[0] | {"strands": "9"}, *LAYERS[1:]], do="look")["answer"]["layers"]
    less = sent(demo, LAYERS, do="look")["answer"]["layers"]
    assert more[0]["share_of_whole"] > less[0]["share_of_whole"]


def test_cover_and_pattern_are_warned_of(demo: TestClient) -> None:
    odd = [LAYERS[0], {"role": "overlay", "cord": RIDGE, "strands": "5", "pattern": "u2o2"}]
    codes = [one["code"] for one in sent(demo, odd, do="look")["answer"]["findings"]]
    assert {"odd-count", "pattern-sum", "cover-low"} <= set(codes)


def test_how_many_strands_is_answered_as_the_command_line_does(demo: TestClient) -> None:
    found = sent(demo, LAYERS, **{"for": "14", "over": "10", "of": FELL, "do": "look"})["counts"]
    offs = [abs(float(line["off"].replace("\N{MINUS SIGN}", "-"))) for line in found["lines"]]
    best = next(line for line in found["lines"] if line["count"] == found["best"])
    assert min(offs) == abs(float(best["off"].replace("\N{MINUS SIGN}", "-")))
    assert [line["count"] for line in found["lines"]] == sorted(line["count"] for line in found["lines"])
    assert found["cord"] == FELL
    wrong = sent(demo, LAYERS, **{"for": "14", "over": "15", "do": "look"})
    assert wrong["counts"] is None
    assert wrong["counts_refused"]["where"] == "over"


def test_what_cannot_be_read_is_told_where_it_stands_and_stays(demo: TestClient) -> None:
    open_layer = [LAYERS[0], {"role": "overlay", "cord": RIDGE, "strands": ""}]
    answer = demo.post("/predict", data=form(open_layer))
    assert answer.status_code == 422
    assert "the strands are missing; give them, or remove the layer" in answer.text
    wrong = sent(demo, LAYERS, line="core 6A; overlay 16Z", cords=f"A = {RIDGE}")
    assert wrong["refused"]["text"].count("Z")
    assert wrong["typed"]["line"] == "core 6A; overlay 16Z"
    assert [row["role"] for row in wrong["rows"]] == ["core", "binding", "overlay"]
    unknown = given(demo.get("/predict", params={"stack": "core 6A", "A": "Ridg 4 mm", "as": "json"}))
    assert "Ridge 4 mm" in unknown["refused"]["remedy"]


def test_an_interval_for_the_diameter_itself_is_narrower_and_a_stranger_s_wider(demo: TestClient) -> None:
    def width(**beside: str) -> float:
        answer = sent(demo, LAYERS, do="look", **beside)["answer"]
        return float(answer["high_90_mm"] - answer["low_90_mm"])

    assert width(maker="Orrin", interval="true") < width(maker="Orrin") < width(maker="Nobody known")


def test_a_first_visit_shows_a_stack_that_lies_well(demo: TestClient) -> None:
    first = given(demo.get("/predict", params={"as": "json"}))
    assert first["answer"]["diameter_mm"] > 5
    assert not {"cover-low", "cover-high"} & {one["code"] for one in first["answer"]["findings"]}


def test_without_a_cord_it_says_where_to_begin(empty: TestClient) -> None:
    page = empty.get("/predict").text
    assert "No cord is in the workshop yet" in page
    assert 'href="/new-cord"' in page
    assert 'class="layer wrong"' not in page
