"""The history over the wire: what was changed, in order; undone and done again; refused where it must be."""

from starlette.testclient import TestClient

from tests.api.server import API, given, refused


def test_edits_are_told_undone_and_done_again(client: TestClient) -> None:
    here = f"{API}/whips/2026-014"
    states = [given(client.get(here))]
    for note in ("first", "second"):
        edit = {"version": states[-1]["version"], "changes": {"notes": note}}
        states.append(given(client.patch(here, json=edit)))
    told = given(client.get(f"{API}/history", params={"kind": "whip", "name": "2026-014"}))["items"]
    assert [change["change"] for change in told] == [state["version"] for state in reversed(states)]
    assert "first -> second" in told[0]["entries"][0]["summary"]
    one = given(client.get(f"{API}/history/{told[0]['change']}"))
    assert one["entries"][0]["before"]["notes"] == "first"
    assert one["entries"][0]["after"]["notes"] == "second"
    assert one["undoable"]

    refused(client.post(f"{API}/history/{told[1]['change']}/undo"), 409)
    for change, state in zip(told[:2], (states[1], states[0]), strict=True):
        done = client.post(f"{API}/history/{change['change']}/undo")
        assert given(done, 201)["of"] == change["change"]
        assert given(client.get(done.headers["location"]))["action"] == "undo"
        now = given(client.get(here))
        assert (now["record"], now["version"]) == (state["record"], state["version"])
    refused(client.post(f"{API}/history/{told[0]['change']}/undo"), 409)
    for change in reversed(told[:2]):
        given(client.post(f"{API}/history/{change['change']}/redo"), 201)
    assert given(client.get(here))["record"]["notes"] == "second"
    refused(client.get(f"{API}/history/999"), 404, "change-not-found")
    refused(client.post(f"{API}/history/999/undo"), 404, "change-not-found")


def test_the_list_goes_on_before_the_last(client: TestClient) -> None:
    for name in ("Ash", "Elm", "Yew"):
        given(client.post(f"{API}/makers", json={"name": name}), 201)
    whole = given(client.get(f"{API}/history"))["items"]
    first = given(client.get(f"{API}/history?limit=2"))["items"]
    rest = given(client.get(f"{API}/history", params={"before": first[-1]["change"]}))["items"]
    assert first + rest == whole
    assert len(whole) == 4


def test_a_cord_that_lies_in_a_whip_is_not_removed(client: TestClient) -> None:
    cord = given(client.get(f"{API}/cords/Fell 3 mm"))
    answer = client.delete(f"{API}/cords/Fell 3 mm", params={"version": cord["version"]})
    assert answer.status_code in {409, 422}, answer.text
    refused(answer, answer.status_code)
    given(client.get(f"{API}/cords/Fell 3 mm"))
