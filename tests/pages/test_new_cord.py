"""A new cord by its page: what comes out, what each measurement buys, slips, and keeping it."""

import re
from html import unescape
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from starlette.testclient import TestClient

OWN = {"Origin": "http://127.0.0.1:8765"}
MEASURED = {"weighed_length": "10", "grams": "64", "touching": "4.1"}


def tried(client: TestClient, **typed: str) -> Any:
    answer = client.get(f"/new-cord?{urlencode(typed)}", headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_what_is_told_of_it_is_what_its_own_page_tells_once_it_is_kept(demo: TestClient) -> None:
    before = tried(demo, **MEASURED, material="nylon", name="Moor 4 mm")["told"]
    kept = demo.post(
        "/new-cord",
        data={**MEASURED, "material": "nylon", "construction": "cored", "name": "Moor 4 mm"},
        headers=OWN,
        follow_redirects=False,
    )
    assert kept.headers["location"].startswith("/cords/Moor%204%20mm?kept=yes&change=")
    page = demo.get(kept.headers["location"])
    assert "What is wanted of it?" in page.text
    assert "/undo" in page.text
    wanted = page.text.split("What is wanted of it?")[1].split("</section>")[0]
    ways = [unescape(one) for one in re.findall(r'href="([^"]+)"', wanted)]
    assert [way.partition("?")[0] for way in ways] == ["/advice/Moor%204%20mm", "/predict", "/plan"]
    for way in ways:
        there = demo.get(way)
        assert there.status_code == 200
        assert "Moor 4 mm" in there.text
    after = demo.get("/cords/Moor%204%20mm", headers={"Accept": "application/json"}).json()
    for key in ("diameter_mm", "half_mm", "overlay"):
        assert before[key] == pytest.approx(after[key], rel=1e-6)


def test_a_measurement_does_what_was_promised_of_it(looked: TestClient) -> None:
    """What is promised of weighing, at the weight that is assumed without it, is what weighing then does."""
    before = tried(looked, touching="4.1")["told"]
    promised = {one["key"]: one for one in before["buys"]}["linear_density_g_per_m"]
    assumed = 0.46 * 3.14159265 / 4 * 4.1**2 * 1.14  # g/m: fibre share, round section, density of nylon
    told = tried(looked, touching="4.1", weighed_length="10", grams=f"{10 * assumed:.6f}")["told"]
    bought = {one["key"]: one for one in told["buys"]}["linear_density_g_per_m"]
    assert promised["with_mm"] == pytest.approx(told["half_mm"], rel=1e-3)
    assert promised["without_mm"] == pytest.approx(bought["without_mm"], rel=1e-3)
    assert bought["given"]
    assert not promised["given"]
    assert promised["percent"] > 20


def test_counts_from_4_to_16_over_the_body_that_was_chosen(looked: TestClient) -> None:
    told = tried(looked, **MEASURED, over="10")["told"]
    assert told["over"] == "over 10.0 mm"
    assert [one["strands"] for one in told["counts"]] == [4, 6, 8, 10, 12, 14, 16]
    sizes = [float(one["diameter"].removesuffix(" mm")) for one in told["counts"]]
    assert sizes == sorted(sizes)
    assert sizes[0] > 10
    assert told["counts"][0]["lies"] == "gaps show"
    assert tried(looked, **MEASURED, over="0")["told"]["over"] == "over nothing"


def test_nothing_is_told_of_a_cord_of_which_nothing_says_how_thick_it_is(looked: TestClient) -> None:
    for typed in ({}, {"ten_strands": "41"}, {"grams": "64"}, {"pressed": "2"}):
        assert tried(looked, **typed)["told"] is None
    steps = tried(looked)["steps"]
    assert steps["steps"][0]["half_mm"] > steps["steps"][-1]["half_mm"] > steps["learnt"]["half_mm"]


@pytest.mark.parametrize(
    ("typed", "right"),
    [
        ({"touching": "0.16"}, {"touching": "4.06 mm"}),
        ({"touching": "41", "pressed": "2"}, {"touching": "4.1 mm"}),
        ({"touching": "4", "ten_strands": "4.1"}, {"ten_strands": "41 mm"}),
        ({"touching": "4", "weighed_length": "10", "grams": "2.5"}, {"grams": "70.87 g"}),
        ({"touching": "4", "weighed_length": "33", "grams": "72"}, {"weighed_length": "10.06 m"}),
        ({"touching": "4", "weighed_length": "1", "grams": "72"}, {"weighed_length": "10 m"}),
        ({"touching": "2", "pressed": "4.1"}, {"touching": "4.1 mm", "pressed": "2 mm"}),
    ],
)
def test_a_slip_is_told_and_put_right_by_a_button(
    looked: TestClient, typed: dict[str, str], right: dict[str, str]
) -> None:
    told = tried(looked, **typed)
    assert told["slips"]
    assert told["slips"][0]["remedy"].startswith("likely")
    use = told["put_right"]["fields"]
    assert dict(parse_qs(use)) == {key: [text] for key, text in right.items()}
    answer = looked.get(f"/new-cord?{urlencode({**typed, 'use': use})}", follow_redirects=False)
    meant = {key: found[0] for key, found in parse_qs(urlsplit(answer.headers["location"]).query).items()}
    assert meant == {**typed, **right}
    assert tried(looked, **meant)["slips"] == []


def test_sound_measurements_of_the_demo_raise_no_doubt(looked: TestClient) -> None:
    answer = looked.get("/api/v1/cords?limit=200").json()["items"]
    for cord in (item["record"] for item in answer):
        typed = {"material": cord["material"], "construction": cord["construction"]}
        for field, key, factor in (
            ("touching", "diameter_mm", 1),
            ("pressed", "pressed_mm", 1),
            ("ten_strands", "flat_width_mm", 10),
            ("grams", "linear_density_g_per_m", 10),
        ):
            if key in cord:
                typed[field] = f"{factor * cord[key]:.4f}"
        if "grams" in typed:
            typed["weighed_length"] = "10"
        assert tried(looked, **typed)["slips"] == [], cord["name"]


@pytest.mark.parametrize(
    ("typed", "status", "said"),
    [
        ({"name": "Ridge 4 mm"}, 409, "is in the workshop already"),
        ({"name": ""}, 422, "a cord needs a name"),
        ({"touching": "thick"}, 422, "is not a diameter"),
        ({"grams": ""}, 422, "its weight is missing"),
        ({"material": ""}, 422, "a cord needs a material"),
    ],
)
def test_a_refusal_loses_nothing_that_was_typed(
    looked: TestClient, typed: dict[str, str], status: int, said: str
) -> None:
    whole = {**MEASURED, "pressed": "2", "ten_strands": "40", "material": "nylon", "construction": "gutted"}
    sent = {**whole, "over": "9", "name": "Moor", "notes": "from the fair", **typed}
    answer = looked.post("/new-cord", data=sent, headers=OWN)
    assert answer.status_code == status
    assert said in answer.text
    for text in sent.values():
        assert not text or text in answer.text
    shown = looked.post("/new-cord", data=sent, headers={**OWN, "Accept": "application/json"}).json()
    assert {key: text for key, text in shown["typed"].items() if text} == {k: v for k, v in sent.items() if v}
    assert looked.get("/api/v1/cords/Moor").status_code == 404


def test_the_part_for_the_script_tells_the_same_and_writes_nothing(looked: TestClient) -> None:
    whole = tried(looked, **MEASURED)
    part = looked.post("/new-cord/tried", data=MEASURED, headers=OWN)
    assert part.status_code == 200
    assert "<html" not in part.text
    for shown in (whole["told"]["plait"], *(one["diameter"] for one in whole["told"]["stacks"])):
        assert shown in part.text
    assert looked.get("/api/v1/cords").json()["total"] == 12


def test_without_a_fit_the_page_says_on_what_it_rests(empty: TestClient) -> None:
    told = tried(empty, touching="4.1")
    assert told["told"] is not None
    assert told["rests_on"].startswith("No fit is stored")
    assert told["steps"] is None
    assert tried(empty)["steps"] is None
