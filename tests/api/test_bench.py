"""From a plan to the bench through the API: begun, measured, planned again, recorded, undone."""

import json
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import reading
from plaitlog.service.schemas.plan_answer import ReplanOut
from plaitlog.service.usecases.planning.plan_json import told_json
from plaitlog.service.usecases.planning.replanning import Standing, replan
from tests.api.server import API, given, refused

SPEC: dict[str, Any] = {
    "maker": "Orrin",
    "thong_length": "900 mm",
    "handle_length": "0 mm",
    "target": {"thick_end": "12 mm", "point": "6 mm"},
    "layers": [
        {"role": "core", "cord": "Ridge 4 mm", "start": 3},
        {"role": "overlay", "cord": "Fell 3 mm", "start": 12},
    ],
}
LABEL = "O/40 ½"


@pytest.fixture
def plan(client: TestClient) -> dict[str, Any]:
    answer: dict[str, Any] = given(client.post(f"{API}/plans", json=SPEC))
    return {**answer, "spec": SPEC}


@pytest.fixture
def begun(client: TestClient, plan: dict[str, Any]) -> dict[str, Any]:
    """A whip on the bench with two readings of its overlay."""
    answer: dict[str, Any] = given(client.post(f"{API}/bench/start", json={"whip": LABEL, "plan": plan}), 201)
    for at, size in ((100, 12.9), (250, 12.0)):
        record = {"whip": LABEL, "at_mm": at, "diameter_mm": size}
        given(client.post(f"{API}/readings", json=record), 201)
    return answer


def test_a_plan_becomes_a_whip_on_the_bench_that_keeps_it(client: TestClient, plan: dict[str, Any]) -> None:
    answer = client.post(f"{API}/bench/start", json={"whip": LABEL, "plan": plan})
    stored = given(answer, 201)
    record = stored["record"]
    assert record["status"] == "on the bench"
    assert [one["strands"] for one in record["layers"]] == [one["strands"] for one in plan["layers"]]
    assert record["plan"]["spec"] == SPEC
    assert record["plan"]["hours"] == plan["hours"]
    assert given(client.get(answer.headers["location"]))["record"] == record
    refused(client.post(f"{API}/bench/start", json={"whip": LABEL, "plan": plan}), 409, "there-already")
    given(client.post(f"{API}/history/{stored['change']}/undo"), 201)
    refused(client.get(answer.headers["location"]), 404)


def test_a_plan_sent_twice_begins_one_whip(client: TestClient, plan: dict[str, Any]) -> None:
    def send() -> Any:
        key = {"Idempotency-Key": "once"}
        return client.post(f"{API}/bench/start", json={"whip": LABEL, "plan": plan}, headers=key)

    first, second = given(send(), 201), given(send(), 201)
    assert (first["version"], first["change"]) == (second["version"], second["change"])
    other = {**plan, "spec": {**SPEC, "maker": "Tamsin"}}
    again = client.post(
        f"{API}/bench/start", json={"whip": LABEL, "plan": other}, headers={"Idempotency-Key": "other"}
    )
    refused(again, 409, "there-already")


def test_a_planned_whip_is_begun_and_one_past_that_is_not(client: TestClient) -> None:
    given(client.post(f"{API}/whips", json={"label": "P 1", "status": "planned"}), 201)
    stored = given(client.post(f"{API}/bench/start", json={"whip": "P 1"}), 201)
    assert stored["record"]["status"] == "on the bench"
    refused(client.post(f"{API}/bench/start", json={"whip": "P 1"}), 422, "started-already")
    refused(client.post(f"{API}/bench/start", json={"whip": "P 2"}), 404, "whip-not-found")


@pytest.mark.usefixtures("begun")
def test_what_lies_ahead_is_planned_again_as_by_the_use_case(
    client: TestClient, plan: dict[str, Any]
) -> None:
    before = client.get(f"{API}/exports").content
    by_readings = given(client.post(f"{API}/bench/replan", json={"whip": LABEL}))
    ReplanOut.model_validate(by_readings)
    assert (by_readings["readings"], by_readings["on_bench"], by_readings["plaited_to_mm"]) == (2, 2, 250)
    assert "the point is expected at" in by_readings["point"]
    assert by_readings["layers"][0] == plan["layers"][0]
    by_spec = given(client.post(f"{API}/bench/replan", json={"whip": LABEL, "spec": SPEC}))
    assert by_spec == by_readings
    placed = {"whip": LABEL, "layer": 2, "to": "20 in"}
    by_place = given(client.post(f"{API}/bench/replan", json=placed))
    with reading(client.app.state.engine) as session:  # type: ignore[attr-defined]
        same = told_json(replan(session, LABEL, SPEC, Standing(2, 508.0)).told)
    assert {**by_place, **json.loads(json.dumps(same))} == by_place
    assert client.get(f"{API}/exports").content == before


@pytest.mark.usefixtures("begun")
def test_the_new_layers_are_recorded_on_request_once(client: TestClient) -> None:
    asked = {"whip": LABEL, "layer": 2, "to_mm": 250, "record": True}
    answer = given(client.post(f"{API}/bench/replan", json=asked))
    record = given(client.get(f"{API}/whips/O%2F40%20%C2%BD"))["record"]
    assert [one["strands"] for one in record["layers"]] == [one["strands"] for one in answer["layers"]]
    assert answer["change"] is not None
    assert given(client.post(f"{API}/bench/replan", json=asked))["change"] is None


@pytest.mark.usefixtures("begun")
@pytest.mark.parametrize(
    ("more", "status", "code"),
    [
        ({"whip": "nobody"}, 404, "whip-not-found"),
        ({"whip": "old 3"}, 422, "no-plan-kept"),
        ({"whip": 3}, 422, None),
        ({"layers": 2}, 422, "unknown-key"),
        ({"layer": 2}, 422, "question-unclear"),
        ({"to": "20 in"}, 422, "question-unclear"),
        ({"layer": 2, "to": "20"}, 422, "unit-missing"),
        ({"layer": 2, "to": "20 in", "to_mm": 508}, 422, "disagree"),
        ({"layer": 9, "to_mm": 508}, 422, "no-such-layer"),
        ({"layer": 0, "to_mm": 508}, 422, None),
        ({"layer": 2, "to_mm": -1}, 422, None),
        ({"layer": 2, "to_mm": 5000}, 422, "beyond-thong"),
        ({"spec": {**SPEC, "thong": 1}}, 422, "unknown-key"),
        ({"spec": {**SPEC, "layers": SPEC["layers"][1:]}}, 422, "other-layers"),
    ],
)
def test_what_cannot_be_planned_again_is_refused(
    client: TestClient, more: dict[str, Any], status: int, code: str | None
) -> None:
    refused(client.post(f"{API}/bench/replan", json={"whip": LABEL, **more}), status, code)


@pytest.mark.parametrize(
    "mutilated",
    [
        {"layers": []},
        {"layers": None},
        {"layers": [1, 2]},
        {"layers": [{}, {}]},
        {"layers": [{"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 12]]}]},
        {"layers": [{"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 3], [100, 0]]}] * 2},
        {"layers": [{"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 0]]}] * 3},
        {"layers": [{"role": "core", "cord": "nobody", "strands": [[0, 3]]}] * 2},
        {"layers": [{"role": "core", "cord": "Ridge 4 mm"}] * 2},
        {"spec": None},
        {"spec": {}},
        {"spec": {**SPEC, "layers": [{}]}},
        {"spec": {**SPEC, "label": 3}},
    ],
)
def test_a_plan_that_is_none_begins_nothing(
    client: TestClient, plan: dict[str, Any], mutilated: dict[str, Any]
) -> None:
    before = client.get(f"{API}/exports").content
    answer = client.post(f"{API}/bench/start", json={"whip": LABEL, "plan": {**plan, **mutilated}})
    refused(answer, answer.status_code if answer.status_code in (404, 409, 422) else 422)
    assert client.get(f"{API}/exports").content == before
