"""Editing a whip: what is typed is kept, what cannot be is shown again, nobody's change is lost."""

import re
from typing import Any

from starlette.testclient import TestClient

from tests.api.server import API, given

EDIT = "/edit/2026-014"


def data(client: TestClient, address: str = EDIT) -> dict[str, Any]:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def facts_form(found: dict[str, Any], **typed: str) -> dict[str, Any]:
    """The form as a browser sends it, with these fields typed over."""
    form: dict[str, Any] = {"do": "facts", "version": found["version"]}
    for fact in found["facts"]:
        form[f"fact.{fact['key']}"] = typed.get(fact["key"], fact["text"])
        form[f"was.{fact['key']}"] = fact["was"]
    return form


def layers_form(found: dict[str, Any], **typed: str) -> dict[str, Any]:
    form: dict[str, Any] = {"do": "layers", "version": found["version"], "complete": found["complete"]}
    for number, layer in enumerate(found["layers"], start=1):
        for key in ("line", "lot", "notes", "was"):
            form[f"{key}.{number}"] = typed.get(f"{key}_{number}", layer[key])
        form[f"place.{number}"] = typed.get(f"place_{number}", number)
    return form | {f"letter.{letter}": cord for letter, cord in found["letters"]}


def reading_form(found: dict[str, Any], number: int, **typed: str) -> dict[str, Any]:
    one = next(one for one in found["readings"] if one["number"] == number)
    form: dict[str, Any] = {"do": "reading", "number": number, "version": one["version"]}
    form |= {**one["texts"], **typed}
    return form | {f"was.{key}": text for key, text in one["was"].items()}


def changed(client: TestClient, what: str, **changes: Any) -> None:
    """Somebody else's edit in the meantime."""
    version = given(client.get(f"{API}/{what}"))["version"]
    given(client.patch(f"{API}/{what}", json={"version": version, "changes": changes}))


def record(client: TestClient, label: str = "2026-014") -> dict[str, Any]:
    found: dict[str, Any] = given(client.get(f"{API}/whips/{label}"))["record"]
    return found


def post(client: TestClient, form: dict[str, Any], status: int = 303) -> Any:
    answer = client.post(EDIT, data=form, follow_redirects=False)
    told = re.findall(r"<li>(?!<a)(.*)</li>|<strong>(.*)</strong>", answer.text)
    assert answer.status_code == status, told
    return answer


def test_kept_as_it_stands_nothing_changes(client: TestClient) -> None:
    before, found = record(client), data(client)
    for form in (facts_form(found), layers_form(found)):
        assert post(client, form).headers["location"] == "/whips/2026-014"
    for one in found["readings"]:
        assert post(client, reading_form(found, one["number"])).headers["location"] == EDIT
    assert record(client) == before


def test_what_is_typed_changes_that_and_nothing_else(client: TestClient) -> None:
    before = record(client)
    form = facts_form(
        data(client), weight="14 oz with none", finish="", handle_length="9", notes="two\nlines"
    )
    answer = post(client, form)
    assert answer.headers["location"].startswith("/whips/2026-014?change=")
    after = record(client)
    changed = {key for key in {*before, *after} if before.get(key) != after.get(key)}
    assert changed == {
        "weight", "weight_g", "weight_with", "finish", "handle_length", "handle_length_mm", "notes"
    }  # fmt: skip
    assert (after["weight"], after["weight_with"], after["handle_length"]) == ("14 oz", "none", "9 in")
    assert "finish" not in after


def test_a_renamed_whip_is_gone_to_by_its_new_label(client: TestClient) -> None:
    answer = post(client, facts_form(data(client), label="a/b 1"))
    assert answer.headers["location"].startswith("/whips/a%2Fb%201?change=")
    assert client.get(answer.headers["location"]).status_code == 200


def test_everything_that_cannot_be_taken_is_told_beside_its_field_and_stays(client: TestClient) -> None:
    before = record(client)
    typed = {"thong_length": "long", "made_on": "soon", "hours": "12", "label": "old 3"}
    answer = post(client, facts_form(data(client), **typed), 422)
    for text in ("long", "soon", "12"):
        assert f'value="{text}"' in answer.text
    assert answer.text.count('aria-invalid="true"') == 2
    assert record(client) == before
    answer = post(client, facts_form(data(client), label="old 3"), 422)
    assert "is the label of another whip" in answer.text
    assert 'value="old 3"' in answer.text


def test_a_stale_edit_shows_both_values_and_a_second_try_keeps_it(client: TestClient) -> None:
    old = data(client)
    changed(client, "whips/2026-014", hours=12, fall="leather")
    as_json = {"Accept": "application/json"}
    answer = client.post(EDIT, data=facts_form(old, hours="13.5"), headers=as_json)
    assert answer.status_code == 409
    shown = {fact["key"]: fact for fact in answer.json()["facts"]}
    assert (shown["hours"]["text"], shown["hours"]["now"]) == ("13.5", "12")
    # What was not touched here shows what is recorded by now.
    assert (shown["fall"]["text"], shown["fall"]["now"]) == ("leather", "")
    again = client.post(EDIT, data=facts_form(old, hours="13.5"))
    assert "Recorded by now: 12" in again.text
    assert "changed in the meantime" in again.text
    post(client, facts_form(answer.json()))
    after = record(client)
    assert (after["hours"], after["fall"]) == (13.5, "leather")


def test_one_layer_changed_leaves_the_rest_as_recorded(client: TestClient) -> None:
    before = record(client)["layers"]
    post(client, layers_form(data(client), line_1="core 7A; 12: -1 each 4 to 4; 28: end"))
    after = record(client)["layers"]
    assert after[1:] == before[1:]
    assert after[0]["strands_text"] == "in: 7A; 12: -1 each 4 to 4; 28: end"
    assert after[0]["cord"] == "Ridge 4 mm"


def test_layers_are_added_moved_and_taken_away(client: TestClient) -> None:
    found = data(client)
    form = layers_form(found, line_5="bolster 1 mm leather from 0 to 10", place_5="2.5", line_3="")
    post(client, form)
    assert [layer["role"] for layer in record(client)["layers"]] == ["core", "belly", "bolster", "overlay"]


def test_what_measurements_rest_on_is_not_taken_from_under_them(client: TestClient) -> None:
    """A turn was measured on layer 2: with the layers one further in it would lie where none runs."""
    form = layers_form(data(client), line_5="bolster 1 mm leather from 0 to 10", place_5="2.5", line_1="")
    answer = post(client, form, 422)
    assert "does not run at 330 mm" in answer.text
    assert "bolster 1 mm leather from 0 to 10</textarea>" in answer.text


def test_a_line_that_cannot_be_read_is_told_and_every_line_stays(client: TestClient) -> None:
    before = record(client)
    form = layers_form(data(client), line_1="core 6A; 3", line_4="overlay 16Z; p")
    answer = post(client, form, 422)
    assert answer.text.count('aria-invalid="true"') == 2
    assert "core 6A; 3</textarea>" in answer.text
    assert record(client) == before


def test_layers_are_said_in_words_while_they_are_typed(client: TestClient) -> None:
    form = layers_form(data(client), line_1="core 5A; 20: end", line_4="overlay 16Z")
    del form["do"]
    answer = client.post(EDIT, data=form)
    assert answer.status_code == 200
    assert "<html" not in answer.text
    assert "5 strands" in answer.text
    assert "Z" in answer.text


def test_one_reading_is_changed_and_one_removed_by_its_number(client: TestClient) -> None:
    found = data(client)
    texts = {one["number"]: one["texts"] for one in found["readings"]}
    number = next(key for key, one in texts.items() if one["after_layer"] == "2")
    form = reading_form(found, number, size="18,1", doubtful="yes", condition="waxed", after_layer="")
    assert post(client, form).headers["location"].startswith(f"{EDIT}?change=")
    stored = given(client.get(f"{API}/readings/{number}"))["record"]
    assert (stored["diameter"], stored["doubtful"], stored["condition"]) == ("18,1 mm", True, "waxed")
    assert "after_layer" not in stored
    one = next(one for one in data(client)["readings"] if one["number"] == number)
    post(client, {"do": "remove-reading", "number": number, "version": one["version"]})
    assert number not in [one["number"] for one in data(client)["readings"]]


def test_a_reading_that_cannot_be_is_shown_again_as_typed(client: TestClient) -> None:
    found = data(client)
    number = found["readings"][0]["number"]
    answer = post(client, reading_form(found, number, at="400", notes="kept"), 422)
    assert 'value="400"' in answer.text
    assert 'value="kept"' in answer.text
    old = reading_form(found, number, size="20")
    changed(client, f"readings/{number}", diameter_mm=21)
    answer = post(client, old, 409)
    assert 'value="20"' in answer.text
    assert "Recorded by now: 21.0 mm" in answer.text


def test_a_rating_session_is_removed(client: TestClient) -> None:
    found = data(client)["ratings"]
    one = next(one for one in found if "Tamsin" in one["head"])
    post(client, {"do": "remove-rating", "number": one["number"], "version": one["version"]})
    assert [x["number"] for x in data(client)["ratings"]] == [
        x["number"] for x in found if x["number"] != one["number"]
    ]


def test_what_belongs_to_another_whip_is_left_alone(client: TestClient) -> None:
    number = data(client, "/edit/old%203")["readings"][0]["number"]
    rating = data(client)["ratings"][0]["number"]
    before = [record(client), record(client, "old%203")]
    for address, what, of in (
        (EDIT, "reading", number),
        (EDIT, "remove-reading", number),
        ("/edit/old%203", "remove-rating", rating),
        (EDIT, "remove-reading", "x"),
    ):
        answer = client.post(address, data={"do": what, "number": of}, follow_redirects=False)
        assert answer.status_code in (404, 422), (what, of)
    assert [record(client), record(client, "old%203")] == before


def test_removing_the_whip_goes_to_the_list(client: TestClient) -> None:
    version = data(client)["version"]
    answer = post(client, {"do": "remove-whip", "version": version})
    assert answer.headers["location"].startswith("/whips?change=")
    assert client.get(EDIT).status_code == 404
