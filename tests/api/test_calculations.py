"""Predictions and fits: the same answers as at the command line, and never stuck."""

import io
from pathlib import Path
from threading import Lock
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import reading
from plaitlog.service.schemas.wanted import QUESTIONS_AT_ONCE
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.predicting_lines import answer_lines
from plaitlog.service.usecases.workshop import cords_by_name
from tests.api.server import API, given, refused, serving
from tests.usecases.examples import BULLWHIP

CORE = {"role": "core", "cord": "Ridge 4 mm", "strands": 6}
OVERLAY = {"role": "overlay", "cord": "Fell 3 mm", "strands": [16, 18], "pattern": "u2o2u2o2"}
QUESTIONS: list[Any] = [
    {"id": "é/1", "maker": "Orrin", "layers": [CORE, OVERLAY]},
    {"id": 7, "layers": [{**CORE, "strands": -1}]},
    {"id": {"any": ["thing"]}, "layers": []},
    {"layers": [CORE], "readings": [{"layers": [CORE], "diameter": "8,9 mm"}]},
    {"id": 1e300, "foundation_mm": 12, "layers": []},
    {"id": True, "layers": [{**CORE, "cord": "Rigde 4 mm"}]},
    3,
    None,
    ["layers"],
]


@pytest.mark.parametrize("interval", ["reading", "true"])
def test_answers_are_those_of_the_same_lines_at_the_command_line(client: TestClient, interval: Any) -> None:
    import json

    lines = "\n".join(map(json.dumps, QUESTIONS)).encode()
    with reading(client.app.state.engine) as session:  # type: ignore[attr-defined]
        in_force, cords = fit_in_force(session), cords_by_name(session)
    batches = answer_lines(in_force, cords, io.BytesIO(lines), limit_bytes=10_000, interval=interval)
    answer = given(client.post(f"{API}/predictions", json={"interval": interval, "questions": QUESTIONS}))
    assert answer["answers"] == json.loads(json.dumps([line for batch in batches for line in batch]))
    assert ["error" in line for line in answer["answers"]] == [False, True, True, False] + [True] * 5
    assert answer["fit"] is None
    assert "no fit is stored" in answer["rests_on"]


def test_a_question_with_a_foundation_and_no_layer_is_refused_by_itself(client: TestClient) -> None:
    asked = {"questions": [{"id": "rod", "foundation_mm": 12, "layers": []}]}
    (line,) = given(client.post(f"{API}/predictions", json=asked))["answers"]
    assert line["error"]["code"] == "empty-stack"


def test_no_question_is_no_answer_and_too_many_are_refused(client: TestClient) -> None:
    assert given(client.post(f"{API}/predictions", json={"questions": []}))["answers"] == []
    many = {"questions": [None] * (QUESTIONS_AT_ONCE + 1)}
    refused(client.post(f"{API}/predictions", json=many), 422, "too-long")
    most = {"questions": [None] * QUESTIONS_AT_ONCE}
    assert len(given(client.post(f"{API}/predictions", json=most))["answers"]) == QUESTIONS_AT_ONCE


def test_a_fit_is_made_put_in_force_and_told_when_it_is_stale(client: TestClient) -> None:
    first = client.post(f"{API}/fits", json={"evidence": False})
    assert given(first, 201)["current"]
    assert first.headers["location"] == f"{API}/fits/1"
    assert given(client.post(f"{API}/fits", json={"evidence": True}), 201)["evidence"] is not None
    assert [fit["current"] for fit in given(client.get(f"{API}/fits"))["items"]] == [True, False]
    assert given(client.post(f"{API}/fits/1/in-force"))["current"]
    assert [fit["fit"] for fit in given(client.get(f"{API}/fits"))["items"] if fit["current"]] == [1]
    asked = {"questions": [{"layers": [CORE, OVERLAY]}]}
    assert given(client.post(f"{API}/predictions", json=asked))["fit"] == 1
    assert not given(client.get(f"{API}/fits/1"))["stale"]
    given(client.post(f"{API}/whips", json={**BULLWHIP, "label": "another"}), 201)
    assert given(client.get(f"{API}/fits/1"))["stale"]
    refused(client.get(f"{API}/fits/3"), 404, "fit-not-found")
    refused(client.post(f"{API}/fits/3/in-force"), 404, "fit-not-found")


def test_two_fits_are_compared_and_the_latest_whips_checked(client: TestClient) -> None:
    refused(client.get(f"{API}/fits/drift"), 404, "no-fit")
    given(client.post(f"{API}/fits", json={"evidence": False}), 201)
    given(client.post(f"{API}/whips", json={**BULLWHIP, "label": "another"}), 201)
    added = client.post(f"{API}/fits/in-force/whips", json={"whip": "another"})
    made = given(added, 201)
    assert (made["fit"], made["current"], made["stale"], made["added"]) == (2, True, False, 1)
    assert added.headers["location"] == f"{API}/fits/2"
    assert "evidence-before" in [finding["code"] for finding in made["findings"]]
    refused(client.post(f"{API}/fits/in-force/whips", json={"whip": "another"}), 409, "in-fit-already")
    told = given(client.get(f"{API}/fits/2/compared-with/1"))
    assert (told["before"], told["after"], told["new_whips"]) == (1, 2, ["another"])
    assert told["readings"][1] > told["readings"][0]
    refused(client.get(f"{API}/fits/2/compared-with/9"), 404, "fit-not-found")
    assert given(client.get(f"{API}/fits/drift"))["fit"] == 2


def test_a_known_whip_in_other_cords_has_diameters_weight_and_cord_use(client: TestClient) -> None:
    """The core of Ridge stays; an overlay of a cord that is as heavy by the metre takes as many metres."""
    label = BULLWHIP["label"]
    own = given(client.post(f"{API}/predictions/like", json={"like": label}))
    asked = {"like": label, "swap": {"Fell 3 mm": "Ridge 4 mm"}}
    told = given(client.post(f"{API}/predictions/like", json=asked))
    assert told["swaps"] == asked["swap"]
    assert [line["at_mm"] for line in told["stations"]] == [line["at_mm"] for line in own["stations"]]
    assert all(line["swapped"]["diameter_mm"] > line["as_was"]["diameter_mm"] for line in told["stations"])
    assert {use["cord"] for use in told["weighing"]["cord_use"]} == {"Ridge 4 mm"}
    assert told["weighing"]["weight_g"] > own["weighing"]["weight_g"]
    refused(client.post(f"{API}/predictions/like", json={"like": "nobody"}), 404, "whip-not-found")
    refused(
        client.post(f"{API}/predictions/like", json={"like": label, "swap": {"x": "y"}}),
        404,
        "cord-not-found",
    )


def test_advice_says_what_to_plait(client: TestClient) -> None:
    told = given(client.post(f"{API}/advice", json={"cord": "Ridge 4 mm", "stacks": ["core 6; overlay 16"]}))
    best = told["proposals"][0]
    assert told["half_90_mm"] > best["half_90_mm"] > told["least_half_90_mm"]
    record = told["record"]
    for one in record["readings"]:
        one["diameter_mm"] = best["foundation_mm"] + 7.0
    given(client.post(f"{API}/whips", json=record), 201)
    refused(client.post(f"{API}/advice", json={"cord": "Rigde 4 mm"}), 404, "cord-not-found")
    both = {"cord": "Ridge 4 mm", "for_mm": 14, "like": BULLWHIP["label"]}
    refused(client.post(f"{API}/advice", json=both), 422, "question-unclear")


def test_a_report_says_what_a_fit_is_worth(client: TestClient) -> None:
    given(client.post(f"{API}/fits", json={"evidence": True}), 201)
    told = given(client.get(f"{API}/fits/1/report"))
    assert (told["fit"], told["current"], told["records_changed"]) == (1, True, False)
    assert told["verdict"]
    assert {cord["name"] for cord in told["cords"]} == {
        cord["record"]["name"] for cord in given(client.get(f"{API}/cords"))["items"]
    }
    refused(client.get(f"{API}/fits/3/report"), 404, "fit-not-found")


def test_a_fit_of_nothing_is_refused_and_the_next_is_not_blocked(tmp_path: Path) -> None:
    with serving(str(tmp_path / "a.db")) as client:
        for _ in range(2):
            refused(client.post(f"{API}/fits", json={}), 409, "nothing-to-learn")
        assert given(client.get(f"{API}/fits"))["items"] == []


def test_one_fit_is_made_at_a_time(client: TestClient) -> None:
    running: Lock = client.app.state.fitting  # type: ignore[attr-defined]
    with running:
        answer = client.post(f"{API}/fits", json={"evidence": False})
        refused(answer, 503, "fit-running")
        assert "retry-after" in answer.headers
    given(client.post(f"{API}/fits", json={"evidence": False}), 201)
