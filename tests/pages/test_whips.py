"""The list of whips as a page: what it shows, what its address asks for, what it remembers."""

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.pages.whips import listing as pages
from plaitlog.service.preferences import preferences

COLUMNS = {"type", "maker", "status", "made_on", "thong_length_mm", "weight_g"}


@pytest.fixture(autouse=True)
def own_preferences(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def data(client: TestClient, address: str) -> dict[str, Any]:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def names(found: dict[str, Any]) -> list[str]:
    return [head["name"] for head in found["heads"]]


def test_an_empty_list_says_what_to_do(empty: TestClient) -> None:
    answer = empty.get("/whips")
    assert "No whip is recorded yet" in answer.text
    assert 'href="/record"' in answer.text
    assert 'href="/import"' in answer.text


def test_no_match_says_which_filter_to_take_away(client: TestClient) -> None:
    address = "/whips?text=nothing+like+it&status=finished&sort=label"
    found = data(client, address)
    assert found["matching"] == 0
    assert found["of"] > 0
    ways = {one["words"]: one["address"] for one in found["taken_away"]}
    assert ways == {
        "text nothing like it": "/whips?status=finished&sort=label",
        "status finished": "/whips?text=nothing+like+it&sort=label",
    }
    assert "nothing like it" in client.get(address).text


def test_what_is_typed_is_shown_as_text(client: TestClient) -> None:
    answer = client.get("/whips", params={"text": '"><b id=x>'})
    assert "<b id=x>" not in answer.text


def test_columns_are_kept_in_the_address_and_for_next_time_when_asked(demo: TestClient) -> None:
    usual = names(data(demo, "/whips"))
    assert usual[:2] == ["label", "type"]
    assert "cords" in usual
    assert "notes" not in usual
    few = data(demo, "/whips?columns=weight_g,maker&columns=notes&columns=nonsense")
    assert names(few) == ["label", "maker", "weight, g", "notes"]
    assert all(
        "columns=maker%2Cweight_g%2Cnotes" in head["address"] for head in few["heads"] if head["address"]
    )
    assert names(data(demo, "/whips")) == usual  # looking changes nothing
    kept = demo.post(
        "/whips/columns", data={"columns": ["weight_g", "maker"], "type": "bullwhip"}, follow_redirects=False
    )
    assert kept.status_code == 303
    assert kept.headers["location"] == "/whips?type=bullwhip&columns=maker%2Cweight_g"
    assert preferences().whip_columns == ("maker", "weight_g")
    assert names(data(demo, "/whips")) == ["label", "maker", "weight, g"]


def test_a_head_sorts_and_sorts_the_other_way_round(demo: TestClient) -> None:
    found = data(demo, "/whips?maker=Orrin")
    weight = next(head for head in found["heads"] if head["name"] == "weight, g")
    first = data(demo, weight["address"])
    by_weight = next(head for head in first["heads"] if head["name"] == "weight, g")
    assert by_weight["sorted"] == "ascending"
    last = data(demo, by_weight["address"])
    shown = [[row["label"] for row in one["rows"]] for one in (first, last)]
    assert shown[0] != shown[1]
    assert sorted(shown[0]) == sorted(shown[1])
    assert last["asked"]["maker"] == "Orrin"


def test_pages_lead_on_and_back_and_end(demo: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pages, "ROWS", 10)
    seen: list[str] = []
    address = "/whips?sort=label"
    while address:
        found = data(demo, address)
        seen += [row["label"] for row in found["rows"]]
        address = found["pages"]["later"]
    assert seen == sorted(seen)
    assert len(seen) == found["of"] == found["last"]
    assert data(demo, found["pages"]["earlier"])["last"] == found["first"] - 1
    beyond = data(demo, "/whips?page=99999")  # somebody removed what was there
    assert beyond["pages"]["page"] == beyond["pages"]["of"]
    assert beyond["rows"]


def test_an_odd_address_shows_the_list_all_the_same(client: TestClient) -> None:
    for query in ("page=x", "page=-1", "page=" + "9" * 30, "sort=;drop", "down=maybe"):
        assert data(client, f"/whips?{query}")["rows"], query


def test_a_label_with_slashes_leads_to_its_whip(client: TestClient) -> None:
    label = "2026/014 b?#%.."
    assert client.post("/api/v1/whips", json={"label": label}).status_code == 201
    rows = {row["label"]: row["address"] for row in data(client, "/whips")["rows"]}
    assert rows[label] == "/whips/2026%2F014%20b%3F%23%25.."
    assert label in client.get(rows[label]).text
