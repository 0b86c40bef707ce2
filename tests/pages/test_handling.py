"""What goes with good ratings, on a page: the same answer as elsewhere, or what to do without one."""

import pytest
from starlette.testclient import TestClient

from plaitlog.service.pages import handling
from tests.api.server import API, given


def test_the_answer_leads_in_the_words_of_the_interface(demo: TestClient) -> None:
    data = given(demo.get("/handling", params={"quality": "volley", "as": "json"}))["answer"]
    told = given(demo.post(f"{API}/handling", json={"qualities": ["volley"]}))
    assert " ".join(data["words"]) == told["summary"]
    assert len(data["tables"][0]["rows"]) == len(told["associations"])
    page = demo.get("/handling", params={"quality": "volley"}).text
    assert page.index(data["words"][0][:40]) < page.index("<svg") < page.index("The figures")
    # Each whip of a picture stands in the table under it as well.
    assert all(chart["table"] is None or len(chart["table"]["rows"]) > 5 for chart in data["charts"])


def test_an_unknown_whip_is_refused_and_the_question_stays(demo: TestClient) -> None:
    answer = demo.get("/handling", params={"quality": "ease", "like": "no such"})
    assert answer.status_code == 422
    assert 'value="no such"' in answer.text
    assert '<option value="ease" selected>' in answer.text


def test_without_ratings_it_says_what_to_do(empty: TestClient) -> None:
    page = empty.get("/handling").text
    assert "No whip is rated yet" in page
    assert 'href="/whips"' in page


def test_a_large_workshop_is_answered_by_a_job(demo: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(handling, "AT_ONCE", 3)
    assert "<svg" not in demo.get("/handling?quality=ease").text
    begun = demo.post("/handling?quality=ease", follow_redirects=False)
    assert begun.headers["location"].startswith("/jobs/")
