"""A whip beside the plan that is kept with it."""

from typing import Any

from starlette.testclient import TestClient

from tests.api.server import API

STATION = {"at_mm": 0, "target_mm": 14.5, "diameter_mm": 14, "low_90_mm": 13, "high_90_mm": 15}
OVERLAY = {"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 16], [600, 12]]}
WHIP: dict[str, Any] = {
    "label": "2026-040",
    "thong_length_mm": 1000,
    "handle_length_mm": 0,
    "layers": [{**OVERLAY, "strands": [[0, 16], [700, 12]]}],
    "layers_complete": True,
    "readings": [{"at_mm": 100, "diameter_mm": 15.5}, {"at_mm": 650, "diameter_mm": 9.5}],
    "hours": 9,
    "plan": {"layers": [OVERLAY], "stations": [STATION, {**STATION, "at_mm": 600}], "hours": 8},
}


def test_each_reading_stands_beside_what_was_planned_there(client: TestClient) -> None:
    assert client.post(f"{API}/whips", json=WHIP).status_code == 201
    answer = client.get(f"{API}/plans/2026-040")
    assert answer.status_code == 200
    found = answer.json()
    first, second = found["readings"]
    assert (first["off_mm"], first["inside"], first["target_mm"]) == (1.5, False, 14.5)
    assert first["parts_mm"]["strands"] == 0
    assert second["parts_mm"]["strands"] > 0.5
    assert found["whole"] == ["took 9 hours of work; 8 were planned"]
    assert len(found["otherwise"]) == 2


def test_a_whip_without_a_plan_says_so(client: TestClient) -> None:
    answer = client.get(f"{API}/plans/2026-014")
    assert answer.status_code == 404
    assert "no plan is kept with 2026-014" in answer.text
