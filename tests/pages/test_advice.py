"""Advice on test plaits by its page: the same as by the interface, and the record of one begun."""

from typing import Any
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from tests.api.server import API

OWN = {"Origin": "http://127.0.0.1:8765"}
HOLM = "/advice/Holm%203%20mm"


def told(client: TestClient, status: int = 200, **asked: str) -> Any:
    answer = client.get(f"{HOLM}?{urlencode(asked)}", headers={"Accept": "application/json"})
    assert answer.status_code == status, answer.text
    return answer.json()


@pytest.mark.parametrize(
    ("asked", "question"),
    [
        ({}, {}),
        ({"size": "14 mm"}, {"for_mm": 14}),
        (
            {"stack": "core 6; overlay 16\ncore 4; overlay 12"},
            {"stacks": ["core 6; overlay 16", "core 4; overlay 12"]},
        ),
        (
            {"like": "2024-011", "instead_of": "Ridge 4 mm"},
            {"like": "2024-011", "swap": {"Ridge 4 mm": "Holm 3 mm"}},
        ),
    ],
)
def test_it_is_the_advice_of_the_interface(
    looked: TestClient, asked: dict[str, str], question: dict[str, Any]
) -> None:
    here = told(looked, **asked)
    there = looked.post(f"{API}/advice", json={"cord": "Holm 3 mm", **question}, headers=OWN).json()
    assert here["wanted"] == there["wanted"]
    assert [one["percent"] for one in here["proposals"]] == [
        round(100 * one["narrower"]) for one in there["proposals"]
    ]
    assert here["best"]["strands"] == there["proposals"][0]["strands"]


def test_how_to_make_it_stands_there_with_its_cautions(looked: TestClient) -> None:
    shown = looked.get(HOLM).text
    assert "Burning nylon drips" in shown
    assert shown.count("Cord cuts fingers") == 1
    assert "Record this test plait" in shown


def test_a_question_that_cannot_be_answered_is_told_and_kept(looked: TestClient) -> None:
    for asked, field in (
        ({"size": "90 mm"}, "size"),
        ({"stack": "core ?"}, "stack"),
        ({"like": "none"}, "like"),
    ):
        found = told(looked, 422, **asked)
        assert found["wrong"][field]["text"]
        assert found["asked"][field] == asked[field]
        assert "--" not in found["wrong"][field]["remedy"]
        assert found["wanted"] == "4 typical stacks of it"
    assert told(looked, 422, size="14 mm", like="2024-011")["wrong"][""]


def test_its_record_is_begun_with_everything_but_the_readings(demo: TestClient) -> None:
    best = told(demo)["best"]
    begun = demo.post(HOLM, data={"plait": best["plait"]}, headers=OWN, follow_redirects=False)
    address = begun.headers["location"]
    assert address.startswith("/record/")
    shown = demo.get(address).text
    assert "no closing" not in shown
    for text in ("test plait of Holm 3 mm", f"overlay {best['strands']}A", "100 mm", "4 mm"):
        assert text in shown
    form = {"do": "keep", "mode": "new", "status": "finished", "readings.1": "30 mm: 10.2; 70 mm: 10.3"}
    draft = demo.get(address, headers={"Accept": "application/json"}).json()
    blocks = [block for group in draft["groups"] for block in group["blocks"]]
    typed = {block["key"]: block["value"] for block in blocks if block["value"]}
    kept = demo.post(address, data={**typed, **form}, headers=OWN, follow_redirects=False)
    assert kept.status_code == 303, kept.text
    whip = demo.get(f"{API}/whips?type=test+plait&limit=200").json()["items"]
    assert any(one["label"].startswith("test plait of Holm 3 mm") for one in whip)


def test_only_test_plaits_that_are_advised_can_be_begun(looked: TestClient) -> None:
    refused = looked.post(HOLM, data={"plait": "13 4 100"}, headers=OWN)
    assert refused.status_code == 422
    assert "no test plait" in refused.text
    assert looked.get("/advice/none").status_code == 404
