"""Measuring at the bench without scripts: each reading is one form, and a record from then on."""

import datetime as dt
import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from plaitlog.service.cli.main import app
from plaitlog.service.preferences import remember_units
from plaitlog.service.usecases.shown_units import ShownUnits
from tests.api.server import API, given, serving
from tests.pages.conftest import HTML
from tests.pages.workshops import demo_copy

WHIP = "2025-B1"
"""On the bench, with readings after its belly, layer 2."""
BEGIN = {
    "do": "begin",
    "every": "6 in",
    "list": "",
    "on": "2",
    "condition": "fresh",
    "each": "1",
    "from": "handle",
}


def begin(client: TestClient, label: str = WHIP, **said: str) -> dict[str, Any]:
    answer = client.post(f"/measure/{label}", data={**BEGIN, **said}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return bench(client, label)


def bench(client: TestClient, label: str = WHIP) -> dict[str, Any]:
    found: dict[str, Any] = given(client.get(f"/measure/{label}", params={"as": "json", "done": "yes"}))
    return found


def do(client: TestClient, what: str, step: int, size: str = "", label: str = WHIP, **more: str) -> Any:
    sent = {"do": what, "step": str(step), "size": size, **more}
    return client.post(f"/measure/{label}", data=sent, follow_redirects=False)


def readings(client: TestClient, label: str = WHIP) -> list[dict[str, Any]]:
    listed = given(client.get(f"{API}/readings", params={"whip": label, "limit": 200}))["items"]
    return [item["record"] for item in listed]


def test_a_run_goes_on_with_each_enter_and_the_rest_is_expected_anew(demo: TestClient) -> None:
    before = readings(demo)
    at_first = begin(demo, WHIP)
    assert at_first["on"] == "layer 2, belly"
    assert at_first["due"]["at"] == at_first["rows"][0]["at"] == "6 in"
    thick = f"{1.03 * at_first['due']['expected_mm']:.2f}"
    answer = do(demo, "reading", 0, thick)
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/measure/{WHIP}"
    after = bench(demo)
    assert after["due"]["at"] == after["rows"][1]["at"]
    # A whip that comes out thicker than expected is expected to be thicker on the rest as well, more surely.
    for was, now in zip(at_first["rows"][2:], after["rows"][2:], strict=True):
        assert float(now["expected"]) >= float(was["expected"])
        assert _width(now["interval"]) < _width(was["interval"])
    assert readings(demo)[len(before) :] == [
        {
            "kind": "reading",
            "whip": WHIP,
            "at_mm": 152.4,
            "at": "6 in",
            "diameter_mm": float(thick),
            "diameter": f"{thick} mm",
            "after_layer": 2,
            "condition": "fresh",
            "on": dt.datetime.now().astimezone().date().isoformat(),
        }
    ]


def _width(interval: str) -> float:
    low, high = interval.split(" to ")
    return float(high) - float(low)


def test_from_the_point_the_last_station_comes_first(demo: TestClient) -> None:
    forward = [row["at"] for row in begin(demo, WHIP)["rows"]]
    backward = begin(demo, WHIP, **{"from": "point"})
    assert [row["at"] for row in backward["rows"]] == forward[::-1]
    assert backward["due"]["at"] == forward[-1]
    assert backward["due"]["beside"].endswith("from the point")


def test_two_at_right_angles_are_two_readings_of_one_station_even_if_alike(demo: TestClient) -> None:
    before = readings(demo)
    due = begin(demo, WHIP, each="2")["due"]
    assert due["which_words"] == "first of two"
    do(demo, "reading", 0, "9.2")
    second = bench(demo)["due"]
    assert (second["at"], second["which_words"]) == (due["at"], "second, at right angles")
    do(demo, "reading", 1, "9.2")
    assert bench(demo)["due"]["at"] != due["at"]
    new = readings(demo)[len(before) :]
    assert [one["diameter_mm"] for one in new] == [9.2, 9.2]
    assert new[0] == new[1]


def test_sent_twice_it_is_one_reading_and_another_one_in_its_place_is_told(demo: TestClient) -> None:
    begin(demo)
    before = readings(demo)
    for _ in range(2):
        assert do(demo, "reading", 0, "9,1").status_code == 303
    assert len(readings(demo)) == len(before) + 1
    other = do(demo, "reading", 0, "8.7")
    assert other.status_code == 409
    assert 'value="8.7"' in other.text
    assert "9,1 mm is there already; 8.7 mm was not taken" in other.text
    assert len(readings(demo)) == len(before) + 1


def test_what_is_no_size_is_told_beside_the_field_and_stays_in_it(demo: TestClient) -> None:
    begin(demo)
    before = readings(demo)
    for typed, told in {
        "0": "not a diameter",
        "0.00": "not a diameter",
        "abc": "not a diameter",
        "-3": "not a diameter",
        "2240": "more than any diameter",
        "": "nothing was typed",
    }.items():
        answer = do(demo, "reading", 0, typed)
        assert answer.status_code == 422
        assert told in answer.text
        assert f'name="size" value="{typed}"' in answer.text
        assert "autofocus" in answer.text
    assert readings(demo) == before


def test_sizes_as_calipers_and_people_type_them(demo: TestClient) -> None:
    begin(demo)
    before = readings(demo)
    for step, typed in enumerate(("9,1", "9.10 mm", "0.36 in", "+9.1")):
        do(demo, "reading", step, typed)
    new = readings(demo)[len(before) :]
    assert [one["diameter_mm"] for one in new] == pytest.approx([9.1, 9.1, 9.144, 9.1])
    assert [one["diameter"] for one in new] == ["9,1 mm", "9.10 mm", "0.36 in", "9.1 mm"]


def test_a_size_without_unit_is_in_the_unit_that_is_preferred(demo: TestClient) -> None:
    remember_units(ShownUnits("mm", "in"))
    try:
        assert begin(demo, every="150")["due"]["at"] == "150 mm"
        do(demo, "reading", 0, "0.36")
    finally:
        remember_units(ShownUnits())
    assert readings(demo)[-1]["diameter"] == "0.36 in"


def test_outside_99_percent_is_marked_and_kept(demo: TestClient) -> None:
    due = begin(demo)["due"]
    assert do(demo, "reading", 0, f"{0.8 * due['expected_mm']:.1f}").status_code == 303
    after = bench(demo)
    assert after["rows"][0]["outside"]
    assert after["last"]["outside"] == due["within_99"]
    assert not after["rows"][1]["outside"]
    assert after["due"]["at"] == after["rows"][1]["at"]
    assert "outside of the 99 % interval" in demo.get(f"/measure/{WHIP}").text


def test_the_last_step_is_taken_back_and_the_history_says_so(demo: TestClient) -> None:
    begin(demo)
    before = readings(demo)
    do(demo, "reading", 0, "9.1")
    do(demo, "pass", 1)
    assert do(demo, "back", 2).status_code == 303
    assert bench(demo)["back"].endswith("passed over")
    do(demo, "back", 1)
    # Sent once more by mistake it takes nothing else back.
    do(demo, "back", 1)
    assert bench(demo)["back"] == "6 in: 9.1 mm"
    assert bench(demo)["due"]["at"] == "6 in"
    assert readings(demo) == before
    assert given(demo.get(f"{API}/history"))["items"][0]["action"] == "undo"


def test_a_reading_that_was_removed_elsewhere_is_due_again(demo: TestClient) -> None:
    begin(demo)
    do(demo, "reading", 0, "9.1")
    newest = given(demo.get(f"{API}/readings", params={"whip": WHIP, "limit": 200}))["items"][-1]
    given(demo.delete(f"{API}/readings/{newest['key']}", params={"version": newest["version"]}))
    assert bench(demo)["due"]["at"] == "6 in"


def test_at_the_end_it_says_how_it_came_out_and_what_to_look_at_again(demo: TestClient) -> None:
    at_first = begin(demo)
    sizes = [1.02 * float(row["expected"]) for row in at_first["rows"]]
    sizes[2] *= 0.8
    for step, size in enumerate(sizes):
        answer = do(demo, "reading", step, f"{size:.2f}")
    assert answer.headers["location"].endswith("?done=yes")
    said = bench(demo)["summed_up"]
    assert said["readings"] == len(sizes)
    assert said["ratio"].endswith("% thicker than expected")
    assert [one["at"] for one in said["suspects"]] == [at_first["rows"][2]["at"]]
    assert said["greatest"]["at"] == at_first["rows"][2]["at"]
    page = demo.get(f"/measure/{WHIP}?done=yes").text
    assert f'href="/whips/{WHIP}"' in page
    assert f'href="/rate/{WHIP}"' in page
    # Asked again it begins with the stations, and the last run can still be looked at.
    assert f'href="/measure/{WHIP}?done=yes"' in demo.get(f"/measure/{WHIP}").text


def test_a_whip_of_which_nothing_but_its_name_is_known_is_measured_all_the_same(empty: TestClient) -> None:
    given(empty.post(f"{API}/whips", json={"label": "Odd/one"}), 201)
    refused = empty.post("/measure/Odd%2Fone", data={**BEGIN, "on": "finished"})
    assert refused.status_code == 422
    assert "not noted how long the thong is" in refused.text
    found = begin(empty, "Odd%2Fone", on="finished", list="0, 12")
    assert found["due"]["expected"] == ""
    assert found["due"]["why"] == "no layers are noted"
    do(empty, "reading", 0, "18.2", label="Odd%2Fone")
    do(empty, "end", 1, label="Odd%2Fone")
    assert bench(empty, "Odd%2Fone")["summed_up"]["ratio"] is None
    assert [one["diameter_mm"] for one in readings(empty, "Odd/one")] == [18.2]


def test_page_interface_and_command_line_leave_the_same_rows(tmp_path: Path) -> None:
    left = []
    for face in (_by_page, _by_interface, _by_command):
        folder = tmp_path / face.__name__
        folder.mkdir()
        database = demo_copy(folder)
        face(database, folder)
        with sqlite3.connect(database) as connection:
            connection.row_factory = sqlite3.Row
            row = dict(connection.execute("SELECT * FROM readings ORDER BY id DESC LIMIT 1").fetchone())
        left.append({key: value for key, value in row.items() if key != "created_at"})
    assert left[0] == left[1] == left[2]


def _by_page(database: str, folder: Path) -> None:
    with serving(database) as client:
        client.headers.update(HTML)
        begin(client)
        do(client, "reading", 0, "9,15")


RECORD = {"whip": WHIP, "at": "6 in", "diameter": "9,15 mm", "after_layer": 2, "condition": "fresh"}


def _record() -> dict[str, Any]:
    return {**RECORD, "on": dt.datetime.now().astimezone().date().isoformat()}


def _by_interface(database: str, folder: Path) -> None:
    with serving(database) as client:
        given(client.post(f"{API}/readings", json=_record()), 201)


def _by_command(database: str, folder: Path) -> None:
    file = folder / "reading.jsonl"
    file.write_text(json.dumps({"kind": "reading", **_record()}), "utf-8")
    result = CliRunner().invoke(app, ["import", str(file), "--database", database])
    assert result.exit_code == 0, result.output
