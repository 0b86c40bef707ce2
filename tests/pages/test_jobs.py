"""The page of long work: followed without scripts, cancelled, listed."""

import pytest
from starlette.testclient import TestClient

from plaitlog.service.jobs import Jobs
from plaitlog.service.work.kinds import Kind


@pytest.fixture
def number(empty: TestClient, monkeypatch: pytest.MonkeyPatch) -> int:
    """A job that waits until somebody cancels it."""
    jobs: Jobs = empty.app.state.jobs  # type: ignore[attr-defined]
    monkeypatch.setattr(jobs, "_kinds", {"test": Kind("tests.jobs.work", "Test")})
    monkeypatch.setattr("plaitlog.service.pages.jobs.KINDS", jobs._kinds)
    return jobs.start("test", {"folder": "/nowhere-at-all", "name": "a"})


def test_left_come_back_to_and_cancelled(empty: TestClient, number: int) -> None:
    page = empty.get(f"/jobs/{number}?then=go")
    assert page.status_code == 200
    assert f'<noscript><meta http-equiv="refresh" content="2; url=/jobs/{number}?then=go">' in page.text
    assert "leave this page" in page.text
    ended = empty.post(f"/jobs/{number}/cancel", headers={"Origin": "http://127.0.0.1:8765"})
    assert ended.url.path == f"/jobs/{number}"
    data = empty.get(f"/jobs/{number}?as=json").json()
    assert data["job"]["state"] in {"cancelled", "failed"}
    assert data["latest"][0] == data["job"]
    assert "refresh" not in ended.text


def test_a_job_that_is_not_there(empty: TestClient) -> None:
    assert empty.get("/jobs/99").status_code == 404
    assert empty.post("/jobs/99/cancel", headers={"Origin": "http://127.0.0.1:8765"}).status_code == 404
    assert empty.get("/jobs/99/now").status_code == 404
