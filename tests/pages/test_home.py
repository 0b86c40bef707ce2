"""The first page: three ways on where nothing is recorded, else how things stand."""

from typing import Any

from starlette.testclient import TestClient

from plaitlog.service.database import write
from plaitlog.service.usecases.drafts import keep

API = "/api/v1"


def data(client: TestClient, address: str = "/") -> dict[str, Any]:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_an_empty_workshop_offers_three_ways_on(empty: TestClient) -> None:
    text = empty.get("/").text
    assert text.count("<li><h2>") == 3
    assert 'href="/record"' in text
    assert 'href="/import"' in text
    assert 'action="/demo"' in text


def test_the_demo_is_a_job_that_keeps_nothing_when_cancelled(empty: TestClient) -> None:
    begun = empty.post("/demo", follow_redirects=False)
    assert begun.status_code == 303
    assert begun.headers["location"] == "/jobs/1"
    assert [job["kind"] for job in data(empty)["jobs"]] == ["demo"]
    empty.post("/jobs/1/cancel")
    found = data(empty)
    assert found["empty"]
    assert found["jobs"] == []


def test_the_demo_is_kept_out_of_a_workshop_in_use(client: TestClient) -> None:
    refused = client.post("/demo", follow_redirects=False)
    assert refused.status_code == 409
    assert "recorded here already" in refused.text
    assert data(client)["jobs"] == []


def test_what_is_unfinished_comes_first(client: TestClient) -> None:
    engine = client.app.state.engine  # type: ignore[attr-defined]
    write(engine, lambda session: keep(session, "token-12", "record", "half a <whip>", {"label": "h"}))
    write(engine, lambda session: keep(session, "token-34", "receipt of old", "not to be shown", {}))
    (draft,) = data(client)["drafts"]
    assert draft["title"] == "half a <whip>"
    assert draft["address"] == "/record/token-12"
    assert "half a &lt;whip&gt;" in client.get("/").text
    assert client.get(draft["address"]).status_code == 200


def test_the_demo_tells_how_things_stand(demo: TestClient) -> None:
    found = data(demo)["overview"]
    assert [whip["label"] for whip in found["on_the_bench"]] == ["2025-B1"]
    assert found["fit"]["unknown"] == 0
    assert not found["fit"]["stale"]
    assert found["demo_change"] == 1
    for address in (found["next"]["address"], found["on_the_bench"][0]["measure"]):
        assert demo.get(address).status_code == 200, address


def test_a_whip_that_the_fit_does_not_know_is_worth_a_fit(demo: TestClient) -> None:
    record = {
        "label": "new",
        "status": "finished",
        "layers": [{"role": "overlay", "cord": "Ridge 4 mm", "strands": "in: 12; p"}],
        "thong_length_mm": 1500,
    }
    assert demo.post(f"{API}/whips", json=record).status_code == 201
    first = data(demo)["overview"]
    assert first["fit"]["stale"]
    assert first["fit"]["unknown"] == 0
    assert first["next"]["words"] == "Measure new"
    assert first["next"]["address"] == "/measure/new"
    reading = {"whip": "new", "at_mm": 100, "diameter_mm": 14.0}
    assert demo.post(f"{API}/readings", json=reading).status_code == 201
    then = data(demo)["overview"]
    assert then["fit"]["unknown"] == 1
    assert then["next"]["words"] == "Fit again"


def test_without_readings_the_newest_whip_is_to_be_measured(empty: TestClient) -> None:
    empty.post(f"{API}/whips", json={"label": "a b/c", "status": "finished"})
    found = data(empty)["overview"]
    assert found["fit"] is None
    assert found["next"]["address"] == "/measure/a%20b%2Fc"
