"""The fit by pages: made as a job with the same rows as elsewhere, decided on, compared, put back."""

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient
from typer.testing import CliRunner

from plaitlog.models.tables import FitRow
from plaitlog.service.cli.main import app as command
from plaitlog.service.database import reading, write
from plaitlog.service.jobs import Jobs
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.fitting import gather, store, work_out
from plaitlog.service.usecases.importing import take_records
from tests.api.server import serving
from tests.pages.conftest import HTML
from tests.pages.pulled_workshop import workshop
from tests.usecases.test_fits_over_time import pulled

OWN = {"Origin": "http://127.0.0.1:8765"}
PATIENCE_S = 60.0


@pytest.fixture
def small(tmp_path: Path) -> Iterator[TestClient]:
    """Pages of a few whips and no fit."""
    with serving(workshop(tmp_path)) as client:
        client.headers.update({**HTML, **OWN})
        yield client


def data(client: TestClient, address: str) -> Any:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    return answer.json()


def made(client: TestClient, how: str) -> dict[str, Any]:
    """Make a fit on the page and wait for its job to end."""
    begun = client.post("/fit", data={"how": how}, follow_redirects=False)
    assert begun.status_code == 303
    address = begun.headers["location"]
    deadline = time.monotonic() + PATIENCE_S
    while (job := data(client, address)["job"])["live"]:
        assert time.monotonic() < deadline
        time.sleep(0.05)
    found: dict[str, Any] = job
    return found


def fit_rows(database: str) -> list[dict[str, Any]]:
    """The stored fits, without when each was made."""
    engine, _ = ready_engine(database)
    columns = [column for column in FitRow.__table__.c if column.name != "created_at"]
    with reading(engine) as session:
        rows = [dict(row) for row in session.execute(select(*columns)).mappings()]
    engine.dispose()
    return rows


def test_page_program_and_command_leave_the_same_rows(tmp_path: Path) -> None:
    by_page = workshop(tmp_path, "page.db", whips=4)
    with serving(by_page) as client:
        client.headers.update({**HTML, **OWN})
        made(client, "evidence")
    by_program = workshop(tmp_path, "program.db", whips=4)
    with serving(by_program) as client:
        assert client.post("/api/v1/fits", json={"evidence": True}).status_code == 201
    by_command = workshop(tmp_path, "command.db", whips=4)
    done = CliRunner().invoke(command, ["fit", "--jobs", "1", "--database", by_command])
    assert done.exit_code == 0, done.output
    rows = fit_rows(by_page)
    assert len(rows) == 1
    assert rows[0]["evidence"]["trials"]
    assert rows == fit_rows(by_program) == fit_rows(by_command)


def test_without_a_fit_it_says_what_is_needed(empty: TestClient, small: TestClient) -> None:
    nothing = empty.get("/fit").text
    assert "No fit has been made yet" in nothing
    assert 'href="/record"' in nothing
    assert 'action="/fit"' not in nothing
    begun = small.get("/fit").text
    assert "7 whips that are made, 7 with readings, 56 readings in all" in begun
    assert 'name="how" value="evidence"' in begun
    assert small.get("/fits/1").status_code == 404


def test_made_quickly_then_with_a_whip_more_then_put_back(tmp_path: Path, small: TestClient) -> None:
    job = made(small, "quick")
    assert (job["state"], job["address"], job["percent"]) == ("done", "/fits/1", 100)
    first = small.get("/fits/1").text
    assert "Fit 1, in force" in first
    assert "Nothing was held out" in first
    engine, _ = ready_engine(str(tmp_path / "small.db"))
    write(engine, lambda session: take_records(session, [*map(pulled, range(7, 9))]))
    engine.dispose()
    stale = data(small, "/fit")
    assert (stale["stale"], stale["unknown"], stale["unknown_whips"]) == (
        True,
        2,
        [pulled(7)["label"], pulled(8)["label"]],
    )
    assert "It does not know 2 whips with readings" in small.get("/fit").text
    added = small.post("/fit/whips", data={"whip": pulled(7)["label"]})
    assert added.url.path == "/fits/2"
    assert data(small, "/fit")["unknown"] == 1
    again = small.post("/fit/whips", data={"whip": pulled(7)["label"]})
    assert again.status_code == 409
    assert "knows" in again.text
    compared = small.get("/fit/compare?before=1&after=2").text
    assert "Fit 2 rests on 64 readings of 8 whips" in compared
    back = small.post("/fits/1/in-force")
    assert "Fit 1, in force" in back.text
    assert [(one["number"], one["current"]) for one in data(small, "/fit")["fits"]] == [(2, False), (1, True)]
    assert small.post("/fits/9/in-force").status_code == 404


def test_decided_on_and_undone(demo: TestClient) -> None:
    demo.headers.update(OWN)
    before = data(demo, "/fit")
    first, second = before["to_decide"][:2]
    marked = demo.post(
        f"/fit/readings/{first['key']}", data={"decision": "doubtful", "version": first["version"]}
    )
    assert "doubtful" in marked.text
    after = data(demo, "/fit")
    assert first["key"] not in {row["key"] for row in after["to_decide"]}
    assert after["stale"], "what the fit was made from is no longer what is recorded"
    change = marked.url.params["change"]
    demo.post(f"/changes/{change}/undo", data={"back": "/fit"})
    assert data(demo, "/fit")["to_decide"] == before["to_decide"]
    demo.post(f"/fit/readings/{second['key']}", data={"decision": "leave"})
    left = data(demo, "/fit")
    assert second["key"] in {row["key"] for row in left["decided"]}
    assert not left["stale"], "to leave a reading changes no record"
    old = demo.post(f"/fit/readings/{second['key']}", data={"decision": "doubtful", "version": 9_999})
    assert old.status_code in {200, 409}
    demo.post(f"/fit/readings/{second['key']}", data={"decision": "again"})
    assert demo.post(f"/fit/readings/{second['key']}", data={"decision": "burn"}).status_code == 422
    assert demo.post("/fit/readings/99999", data={"decision": "leave"}).status_code == 404


def test_one_fit_at_a_time_whoever_asks(small: TestClient) -> None:
    with small.app.state.fitting:  # type: ignore[attr-defined]
        refused = small.post("/fit", data={"how": "quick"})
        assert refused.status_code == 503
        assert "a fit is being made just now" in refused.text
    first = small.post("/fit", data={"how": "evidence"}, follow_redirects=False).headers["location"]
    twice = small.post("/fit", data={"how": "evidence"}, follow_redirects=False).headers["location"]
    other = small.post("/fit", data={"how": "quick"}, follow_redirects=False).headers["location"]
    assert first == twice == other
    program = small.post("/api/v1/fits", json={"evidence": False})
    assert (program.status_code, program.json()["error"]["code"]) == (503, "fit-running")
    jobs: Jobs = small.app.state.jobs  # type: ignore[attr-defined]
    jobs.cancel(1)
    assert fit_rows_of(small) == 0


def fit_rows_of(client: TestClient) -> int:
    return len(data(client, "/fit")["fits"])


def test_what_takes_long_in_a_large_workshop_is_a_job_with_the_same_answer(
    tmp_path: Path, small: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    engine, _ = ready_engine(str(tmp_path / "small.db"))
    with reading(engine) as session:
        gathered = gather(session)
    worked = work_out(gathered, with_evidence=False)
    write(engine, lambda session: store(session, worked))
    engine.dispose()
    at_once = data(small, "/fit/drift")["content"]
    assert at_once["checks"]
    assert small.get("/fit/gaps").status_code == small.get("/fit/test-plaits").status_code == 200
    monkeypatch.setattr("plaitlog.service.pages.fits.checks.AT_ONCE", 0)
    assert data(small, "/fit/drift")["content"] is None
    begun = small.post("/fit/drift", follow_redirects=False).headers["location"]
    deadline = time.monotonic() + PATIENCE_S
    while data(small, begun)["job"]["live"]:
        assert time.monotonic() < deadline
        time.sleep(0.05)
    assert data(small, "/fit/drift")["content"] == at_once
    assert json.dumps(at_once)
