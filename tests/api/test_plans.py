"""Plans through the API: the same answer as at the command line, nothing stored, nobody kept waiting."""

import json
import time
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import reading
from plaitlog.service.schemas.plan_answer import PlanOut
from plaitlog.service.usecases.planning.plan_json import told_json
from plaitlog.service.usecases.planning.planning import bench_of, plan_for
from tests.api.server import API, given, refused
from tests.usecases.examples import BULLWHIP

SPEC: dict[str, Any] = {
    "maker": "Orrin",
    "thong_length": "4 ft",
    "target": {"taper": "early", "thick_end": "16 mm", "point_mm": 7},
    "layers": [{"role": "core", "cord": "Ridge 4 mm"}, {"role": "overlay", "cord": "Fell 3 mm"}],
}
SLOW: dict[str, Any] = {
    "thong_length": "15 m",
    "target": {"thick_end": "40 mm", "point_mm": 7},
    "layers": [
        {"role": role, "cord": "Ridge 4 mm"} for role in ("core", "belly", "belly", "belly", "overlay")
    ],
    "rules": {"grid_mm": 5, "plait_counts": [2, 40]},
}


def test_the_answer_is_that_of_the_use_case_and_nothing_is_stored(client: TestClient) -> None:
    before = client.get(f"{API}/exports").content
    answer = given(client.post(f"{API}/plans", json=SPEC))
    PlanOut.model_validate(answer)
    with reading(client.app.state.engine) as session:  # type: ignore[attr-defined]
        same = told_json(plan_for(bench_of(session, SPEC)))
    assert answer == json.loads(json.dumps(same))
    assert answer["fit"] is None
    assert client.get(f"{API}/exports").content == before


def test_plans_are_told_side_by_side_where_they_are_wanted(client: TestClient) -> None:
    answer = given(client.post(f"{API}/plans?choices=true", json=SPEC))
    PlanOut.model_validate(answer)
    assert answer["choices"][0]["layers"] == answer["layers"]
    words = [one["words"] for one in answer["choices"]]
    assert words[0].startswith("as asked for")
    assert any(one.startswith("fewer cords: all of Ridge 4 mm") for one in words)
    assert given(client.post(f"{API}/plans", json=SPEC)) == {**answer, "choices": []}


def test_a_plan_may_rest_on_an_earlier_fit(client: TestClient) -> None:
    for _ in range(2):
        given(client.post(f"{API}/fits", json={"evidence": False}), 201)
    assert given(client.post(f"{API}/plans", json=SPEC))["fit"] == 2
    assert given(client.post(f"{API}/plans", json={**SPEC, "fit": 1}))["fit"] == 1
    refused(client.post(f"{API}/plans", json={**SPEC, "fit": 9}), 404, "fit-not-found")


def test_a_recorded_whip_is_made_again(client: TestClient) -> None:
    answer = given(client.post(f"{API}/plans", json={"target": {"like": BULLWHIP["label"]}}))
    assert [one["role"] for one in answer["layers"]] == ["core", "belly", "binding", "overlay"]
    assert answer["thong_length_mm"] == BULLWHIP["thong_length_mm"]
    refused(client.post(f"{API}/plans", json={"target": {"like": "nobody"}}), 404, "whip-not-found")
    refused(client.post(f"{API}/plans", json={"target": {"like": "old 3"}}), 409)


@pytest.mark.parametrize(
    ("more", "status", "code"),
    [
        ({"thong": "5 ft"}, 422, "unknown-key"),
        ({"thong_length": 1200}, 422, "unit-missing"),
        ({"thong_length": "16 m"}, 422, "out-of-range"),
        ({"thong_length": None}, 422, "missing"),
        ({"rules": {"grid_mm": 4}}, 422, "out-of-range"),
        ({"layers": [SPEC["layers"][1]] * 7}, 422, "too-long"),
        ({"layers": [{"role": "overlay", "cord": "Rigde 4 mm"}]}, 422, "cord-not-found"),
        ({"target": {}}, 422, "missing"),
    ],
)
def test_what_cannot_be_planned_is_refused(
    client: TestClient, more: dict[str, Any], status: int, code: str
) -> None:
    refused(client.post(f"{API}/plans", json={**SPEC, **more}), status, code)


def test_questions_that_would_take_minutes_are_refused_in_a_moment(client: TestClient) -> None:
    begun = time.process_time()
    refused(client.post(f"{API}/plans", json=SLOW), 422, "too-much-work")
    given_starts = [{**one, "start": 6 + 2 * k} for k, one in enumerate(SLOW["layers"])]
    refused(client.post(f"{API}/plans", json={**SLOW, "layers": given_starts}), 422, "too-much-work")
    running = [{**one, "fate": "run"} for one in SLOW["layers"][-2:]]
    asked = {**SLOW, "layers": [SLOW["layers"][0], *running]}
    refused(client.post(f"{API}/plans", json=asked), 422, "too-much-work")
    assert time.process_time() - begun < 10
