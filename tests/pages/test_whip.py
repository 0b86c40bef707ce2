"""The page of one whip: everything that is known of it, and a sensible page where nothing is."""

import re
from itertools import pairwise
from typing import Any
from urllib.parse import quote

import pytest
from starlette.testclient import TestClient

from tests.api.server import API, given
from tests.api.test_beside_plan import WHIP as PLANNED
from tests.pages.test_editing import changed

LABEL = "2024-005"


def data(client: TestClient, address: str) -> dict[str, Any]:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_a_whip_shows_what_its_record_says(demo: TestClient) -> None:
    page = demo.get(f"/whips/{LABEL}").text
    found = data(demo, f"/whips/{LABEL}")
    record = given(demo.get(f"{API}/whips/{LABEL}"))["record"]
    assert len(found["readings"]["rows"]) == len(record["readings"])
    assert len(found["layers"]) == len(record["layers"])
    assert found["usable"]["line"] in page.replace("Usable for", "usable for")
    assert found["caution"] in page
    for layer in found["layers"]:
        assert layer["words"] in page.replace("&#39;", "'")
    for rating in found["ratings"]:
        assert {one["quality"] for one in rating["scores"]} <= set(re.findall(r"<dt>([^<]+)</dt>", page))


def test_the_stations_say_what_the_drawing_of_the_interface_says(demo: TestClient) -> None:
    drawing = data(demo, f"/whips/{LABEL}")["drawing"]
    numbers = given(demo.get(f"{API}/charts/whips/{LABEL}", params={"format": "json"}))
    assert [row["predicted_mm"] for row in drawing["stations"]] == [
        pytest.approx(one["diameter_mm"]) for one in numbers["sections"]
    ]
    assert len(drawing["nearest"]) == len(numbers["readings"])
    # Every reading lies in exactly one stretch.
    assert sum(len(row["readings"]) for row in drawing["stations"]) == len(numbers["readings"])
    ends = [(row["from_mm"], row["to_mm"]) for row in drawing["stations"]]
    assert all(one[1] == other[0] for one, other in pairwise(ends))


def test_the_drawing_keeps_to_the_page_s_policy(demo: TestClient) -> None:
    for label in (LABEL, "2022-001"):
        page = demo.get(f"/whips/{label}").text
        assert not re.search(r"<svg[^>]*>.*?(?: style=|<style|<script| on[a-z]+=)", page, re.DOTALL)
        assert " style=" not in page


def test_what_takes_longer_is_on_the_page_when_asked_for(client: TestClient) -> None:
    assert data(client, "/whips/old%203")["more"] is None
    assert 'href="/whips/old%203?more=yes#more"' in client.get("/whips/old%203").text
    for label, weighed in (("2026-014", True), ("old%203", False)):
        more = data(client, f"/whips/{label}?more=yes")["more"]
        assert more["worth"]
        assert more["taper"]
        assert bool(more["weighed"]) is weighed
        part = client.get(f"/whips/{label}?more=part").text
        assert "<html" not in part
        for words in (more["worth"][0].split(":")[0], more["taper"][0].split(":")[0]):
            assert words in part.replace("\u00a0", " ")
    noted = [row[3] for row in data(client, "/whips/2026-014?more=yes")["more"]["weighed"]]
    assert any(said.startswith("412 g with fall and cracker") for said in noted)


def test_a_label_alone_has_a_page_that_says_what_to_do(client: TestClient) -> None:
    given(client.post(f"{API}/whips", json={"label": "bare/1 ?&<b>"}), 201)
    answer = client.get(f"/whips/{quote('bare/1 ?&<b>', safe='')}")
    assert answer.status_code == 200
    assert "<b>" not in answer.text
    assert "Nothing can be drawn yet" in answer.text
    assert "Nothing but its label" in answer.text
    assert "Nothing is measured yet" in answer.text
    assert "Not rated yet" in answer.text
    assert f'href="/edit/{quote("bare/1 ?&<b>", safe="")}"' in answer.text


def test_readings_alone_are_drawn_though_no_layer_is_known(client: TestClient) -> None:
    record = {"label": "measured", "thong_length": "6 ft", "readings": "in mm: 0: 18; 30: 14; p 6"}
    given(client.post(f"{API}/whips", json=record), 201)
    drawing = data(client, "/whips/measured")["drawing"]
    assert drawing["picture"].count('class="measured"') == 3
    assert not drawing["print"]
    assert all(row["reason"] for row in drawing["stations"])


def test_the_same_whip_in_another_cord_comes_out_as_the_interface_predicts(demo: TestClient) -> None:
    asked = {"like": LABEL, "swap": {"Heath 3.5 mm": "Ridge 4 mm"}}
    told = given(demo.post(f"{API}/predictions/like", json=asked))
    found = data(demo, f"/whips/{LABEL}?instead=Heath+3.5+mm&other=Ridge+4+mm")["other_cord"]
    assert [row[3] for row in found["rows"]] == [
        f"{one['swapped']['diameter_mm']:.1f} mm" for one in told["stations"]
    ]
    wrong = data(demo, f"/whips/{LABEL}?instead=Heath+3.5+mm&other=Heather+9")["other_cord"]
    assert wrong["error"]["text"]
    assert wrong["rows"] == []


def test_a_whip_beside_its_plan_shows_what_was_wanted(client: TestClient) -> None:
    given(client.post(f"{API}/whips", json=PLANNED), 201)
    found = data(client, "/whips/2026-040")
    told = given(client.get(f"{API}/plans/2026-040"))
    assert len(found["beside"]["rows"]) == len(told["readings"])
    assert found["beside"]["whole"] == told["whole"]
    assert found["drawing"]["picture"].count('class="wanted"') == 1
    assert "wanted by its plan" in [words for _, words in found["drawing"]["legend"]]


def test_a_removed_whip_comes_back_from_the_list_that_follows(client: TestClient) -> None:
    before = given(client.get(f"{API}/whips/2026-014"))["record"]
    version = data(client, "/whips/2026-014")["version"]
    answer = client.post("/whips/2026-014", data={"version": version}, follow_redirects=False)
    assert answer.status_code == 303
    address = answer.headers["location"]
    assert client.get("/whips/2026-014").status_code == 404
    change = address.partition("change=")[2]
    assert f'action="/changes/{change}/undo"' in client.get(address).text
    given(client.post(f"{API}/history/{change}/undo"), 201)
    assert given(client.get(f"{API}/whips/2026-014"))["record"] == before


def test_a_removal_that_rests_on_an_older_whip_is_refused(client: TestClient) -> None:
    version = data(client, "/whips/2026-014")["version"]
    changed(client, "whips/2026-014", hours=12)
    answer = client.post("/whips/2026-014", data={"version": version}, follow_redirects=False)
    assert answer.status_code == 409
    assert client.get("/whips/2026-014").status_code == 200


def test_the_history_of_a_whip_tells_of_it_alone_and_undoes_what_touches_it_alone(client: TestClient) -> None:
    changed(client, "whips/2026-014", hours=12)
    changes = data(client, "/whips/2026-014")["changes"]
    assert [(one["action"], one["undoable"]) for one in changes] == [("edit", True), ("record", False)]
    assert "2026-014" in changes[0]["words"][0]
    assert not any("old 3" in words for one in changes for words in one["words"])
