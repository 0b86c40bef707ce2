"""A rating session by the form: kept, mended, refused with everything that was typed."""

from starlette.testclient import TestClient

from plaitlog.models.whip import QUALITIES
from tests.api.server import API, given

FORM = {
    "by": "Tamsin",
    "on": "2026-03-09",
    "hours_of_use": "4,5",
    "score.ease": "7",
    "score.volley": "not tried",
    "feel.slow_quick": "-1",
    "notes": "in wind",
}


def ratings(client: TestClient, label: str) -> list[dict[str, object]]:
    items = given(client.get(f"{API}/ratings", params={"whip": label}))["items"]
    return [item["record"] for item in items]


def test_every_quality_has_its_three_anchors_and_the_care_stands_once(client: TestClient) -> None:
    page = client.get("/rate/2026-014").text
    for quality in QUALITIES:
        assert f'name="score.{quality}" value="10"' in page
    assert "a lazy wrist cracks it" in page
    assert page.count("never indoors") == 1


def test_what_is_left_empty_is_not_in_the_record(client: TestClient) -> None:
    before = ratings(client, "2026-014")
    answer = client.post("/rate/2026-014", data=FORM, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/whips/2026-014?change=")
    assert [one for one in ratings(client, "2026-014") if one not in before] == [
        {
            "kind": "rating",
            "whip": "2026-014",
            "by": "Tamsin",
            "on": "2026-03-09",
            "hours_of_use": 4.5,
            "scores": {"ease": 7.0, "volley": "not tried"},
            "feel": {"slow_quick": -1.0},
            "notes": "in wind",
        }
    ]


def test_sent_twice_it_is_one_session(client: TestClient) -> None:
    client.post("/rate/2026-014", data=FORM, follow_redirects=False)
    once = ratings(client, "2026-014")
    assert client.post("/rate/2026-014", data=FORM, follow_redirects=False).status_code == 303
    assert ratings(client, "2026-014") == once


def test_what_cannot_be_taken_is_told_beside_it_and_nothing_typed_is_lost(client: TestClient) -> None:
    before = ratings(client, "2026-014")
    wrong = {**FORM, "on": "the ninth", "compared_with": "2026-999"}
    answer = client.post("/rate/2026-014", data=wrong)
    assert answer.status_code == 422
    for typed in ("the ninth", "2026-999", "in wind", "4,5"):
        assert typed in answer.text
    assert 'name="score.ease" value="7" checked' in answer.text
    assert answer.text.count('aria-invalid="true"') >= 1
    assert ratings(client, "2026-014") == before


def test_a_session_is_mended_and_a_stale_one_shows_both_values(client: TestClient) -> None:
    client.post("/rate/2026-014", data=FORM, follow_redirects=False)
    items = given(client.get(f"{API}/ratings", params={"whip": "2026-014"}))["items"]
    key, version = items[-1]["key"], items[-1]["version"]
    page = client.get("/rate/2026-014", params={"session": key}).text
    assert f'name="session" value="{key}"' in page
    assert 'name="score.ease" value="7" checked' in page
    mended = {**FORM, "session": str(key), "version": str(version), "score.ease": "8"}
    assert client.post("/rate/2026-014", data=mended, follow_redirects=False).status_code == 303
    assert ratings(client, "2026-014")[-1]["scores"] == {"ease": 8.0, "volley": "not tried"}
    answer = client.post("/rate/2026-014", data={**mended, "score.ease": "3"})
    assert answer.status_code == 409
    assert 'name="score.ease" value="3" checked' in answer.text
    assert "8" in answer.text


def test_a_whip_that_is_not_there_is_not_found(client: TestClient) -> None:
    assert client.get("/rate/nothing").status_code == 404
    assert client.post("/rate/nothing", data=FORM).status_code == 404
