"""The story of each noun: added, read, edited, edited from an old copy, removed, brought back."""

from dataclasses import dataclass
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import writing
from tests.api.server import API, given, refused, serving
from tests.usecases.examples import BULLWHIP, FELL, RIDGE


@dataclass(frozen=True)
class Story:
    """A record to add, and what two people make of it, starting from the same copy."""

    place: str
    record: dict[str, Any]
    mine: dict[str, Any]
    theirs: dict[str, Any]


STORIES = [
    Story("makers", {"name": "Wren"}, {"name": "Wren the elder"}, {"name": "Wren the younger"}),
    Story(
        "cords",
        {"name": "Crag 2 mm", "material": "nylon", "construction": "cored", "diameter": "2 mm"},
        {"diameter_mm": 2.2, "notes": "measured again"},
        {"notes": "soft"},
    ),
    Story(
        "stock",
        {"cord": "Ridge 4 mm", "colour": "red", "metres": 100},
        {"metres": 62.5},
        {"metres": 80, "lot": "2026-07"},
    ),
    Story(
        "whips",
        {**BULLWHIP, "label": "2026-015"},
        {"weight": "15 oz", "notes": None},
        {"weight_g": 400, "notes": "tight"},
    ),
    Story(
        "readings",
        {"whip": "2026-014", "at_mm": 900, "diameter": "12,4 mm"},
        {"diameter_mm": 12.6},
        {"doubtful": True, "diameter_mm": 12.1},
    ),
    Story(
        "ratings",
        {"whip": "2026-014", "by": "Wren", "on": "2026-04-01", "scores": {"ease": 8}},
        {"scores": {"ease": 6, "volley": "not tried"}},
        {"scores": {"ease": 3}},
    ),
]


@pytest.fixture(params=STORIES, ids=lambda story: story.place)
def story(request: pytest.FixtureRequest) -> Story:
    found: Story = request.param
    return found


def test_a_record_is_added_read_edited_removed_and_brought_back(client: TestClient, story: Story) -> None:
    added = client.post(f"{API}/{story.place}", json=story.record)
    first = given(added, 201)
    here = added.headers["location"]
    assert given(client.get(here))["record"] == first["record"]
    assert says(first["record"], story.record)

    edited = given(client.patch(here, json={"version": first["version"], "changes": story.mine}))
    here = address(story, edited)
    assert edited["version"] > first["version"]
    assert given(client.get(here))["record"] == edited["record"]
    assert says(edited["record"], story.mine)

    stale = client.patch(here, json={"version": first["version"], "changes": story.theirs})
    refused(stale, 409, "stale-edit")
    conflict = stale.json()["conflict"]
    assert conflict["version"] == edited["version"]
    for value in conflict["values"]:
        assert value["typed"] == story.theirs[value["key"]]
        assert value["stored"] == edited["record"].get(value["key"])
    assert conflict["values"]
    assert given(client.get(here))["record"] == edited["record"]
    refused(client.delete(here, params={"version": first["version"]}), 409, "stale-edit")

    removed = given(client.delete(here, params={"version": edited["version"]}))
    refused(client.get(here), 404)

    given(client.post(f"{API}/history/{removed['change']}/undo"), 201)
    back = given(client.get(here))
    assert (back["record"], back["version"]) == (edited["record"], edited["version"])


def test_what_is_there_already_is_not_added_twice(client: TestClient, story: Story) -> None:
    given(client.post(f"{API}/{story.place}", json=story.record), 201)
    before = given(client.get(f"{API}/{story.place}"))["total"]
    refused(client.post(f"{API}/{story.place}", json=story.record), 409)
    assert given(client.get(f"{API}/{story.place}"))["total"] == before


def test_a_submit_sent_twice_with_one_key_is_one_record_and_one_answer(
    client: TestClient, story: Story
) -> None:
    once = {"Idempotency-Key": "9c1f"}
    first = client.post(f"{API}/{story.place}", json=story.record, headers=once)
    total = given(client.get(f"{API}/{story.place}"))["total"]
    again = client.post(f"{API}/{story.place}", json=story.record, headers=once)
    for key in ("record", "version", "change"):
        assert given(again, 201)[key] == given(first, 201)[key]
    assert again.headers["location"] == first.headers["location"]
    assert given(client.get(f"{API}/{story.place}"))["total"] == total


def test_a_key_does_not_let_another_record_of_the_same_name_pass(client: TestClient) -> None:
    key = {"Idempotency-Key": "9c1f"}
    given(client.post(f"{API}/whips", json={"label": "new", "type": "bullwhip"}, headers=key), 201)
    other = {"label": "new", "type": "stock whip"}
    refused(client.post(f"{API}/whips", json=other, headers=key), 409, "whip-exists")
    assert given(client.get(f"{API}/whips/new"))["record"]["type"] == "bullwhip"


def test_an_edit_that_says_nothing_new_makes_no_change(client: TestClient) -> None:
    whip = given(client.get(f"{API}/whips/2026-014"))
    same = given(
        client.patch(
            f"{API}/whips/2026-014",
            json={"version": whip["version"], "changes": {"weight_g": whip["record"]["weight_g"]}},
        )
    )
    assert (same["change"], same["version"]) == (None, whip["version"])


def test_a_reading_from_before_there_were_versions_is_edited_and_removed(client: TestClient) -> None:
    with writing(client.app.state.engine) as session:  # type: ignore[attr-defined]
        session.connection().exec_driver_sql("UPDATE readings SET version = 0")
    old = given(client.get(f"{API}/readings/1"))
    assert old["version"] == 0
    edit = {"version": 0, "changes": {"doubtful": True}}
    edited = given(client.patch(f"{API}/readings/1", json=edit))
    assert edited["version"] > 0
    given(client.delete(f"{API}/readings/2", params={"version": 0}))


@pytest.mark.postgresql
def test_the_story_of_a_whip_on_postgresql(postgresql_url: str) -> None:
    with serving(postgresql_url) as client:
        for cord in (RIDGE, FELL):
            given(client.post(f"{API}/cords", json=cord), 201)
        story = next(story for story in STORIES if story.place == "whips")
        test_a_record_is_added_read_edited_removed_and_brought_back(client, story)
        refused(client.get(f"{API}/whips/%00"), 404)
        answer = given(client.get("/readyz"))
        assert answer["database"] == "postgresql"


def address(story: Story, answer: dict[str, Any]) -> str:
    """Where a record is after an edit, which may have renamed it."""
    if "key" in answer:
        return f"{API}/{story.place}/{answer['key']}"
    record = answer["record"]
    return f"{API}/{story.place}/{record.get('label') or record['name']}"


def says(record: dict[str, Any], typed: dict[str, Any]) -> bool:
    """Whether a record says what was typed: null is absent, and lists are held by other tests."""
    flat = {key: value for key, value in typed.items() if not isinstance(value, list)}
    return all(record.get(key) == value for key, value in flat.items())
