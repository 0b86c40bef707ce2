"""What goes with good ratings, through the API."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from plaitlog.seed_demo.workshop import seed
from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.schemas.handling import HandlingOut
from tests.api.server import API, given, refused, serving


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A server on the invented workshop, without a fit."""
    database = str(Path(tmp_path_factory.mktemp("demo")) / "plaitlog.db")
    engine, _ = ready_engine(database)
    write(engine, seed)
    engine.dispose()
    with serving(database) as client:
        yield client


def test_the_planted_truth_is_answered_in_words_and_figures(demo: TestClient) -> None:
    answer = given(demo.post(f"{API}/handling", json={"qualities": ["volley"], "like": "2024-003"}))
    HandlingOut.model_validate(answer)
    assert answer["summary"].startswith("Volley goes with a smaller ")
    claimed = {one["parameter"] for one in answer["associations"] if one["claimed"]}
    assert "middle_share" in claimed
    assert answer["joint"]["better"]
    assert len(answer["aim"]["nearest"]) == 5
    assert all(one["p"] > 0 for one in answer["associations"])


def test_of_what_depends_on_nothing_nothing_is_claimed(demo: TestClient) -> None:
    answer = given(demo.post(f"{API}/handling", json={"qualities": ["recovery"]}))
    assert answer["summary"].startswith("Nothing can be claimed: over ")
    assert not any(one["claimed"] or one["bend_claimed"] for one in answer["associations"])
    assert not answer["joint"]["better"]


def test_candidates_are_ranked_by_what_they_teach(demo: TestClient) -> None:
    asked = {"qualities": ["volley"], "candidates": ["2024-003", "2024-013"]}
    found = given(demo.post(f"{API}/handling", json=asked))["next"]["candidates"]
    assert {one["label"] for one in found} == {"2024-003", "2024-013"}
    assert found[0]["teaches"] >= found[1]["teaches"] > 0


@pytest.mark.parametrize(
    ("asked", "status", "told"),
    [
        ({"qualities": ["vollee"]}, 422, "volley"),
        ({"type": "stockwhip"}, 422, "stock whip"),
        ({"like": "2024-0003"}, 404, "2024-003"),
        ({"quality": "volley"}, 422, "did you mean 'qualities'?"),
        ({"qualities": []}, 422, "should have at least 1 item"),
    ],
)
def test_what_is_not_known_is_refused_with_the_nearest(
    demo: TestClient, asked: dict[str, object], status: int, told: str
) -> None:
    assert told in refused(demo.post(f"{API}/handling", json=asked), status)["remedy"]


def test_an_empty_workshop_has_nothing_to_say(empty: TestClient) -> None:
    error = refused(empty.post(f"{API}/handling", json={}), 422)
    assert error["text"] == "no whip is rated yet"
