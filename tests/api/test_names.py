"""Names and labels may hold anything that is text; they work in addresses all the same."""

import pytest
from starlette.testclient import TestClient

from tests.api.server import API, given, refused

HOSTILE = [
    "2026/014",
    "/",
    "//",
    "a//b/",
    "..",
    ".",
    "../../etc/passwd",
    "a/../b",
    "100 %",
    "%2F",
    "%00",
    "what? #1",
    "a+b&c=d;e",
    "Ünïcödé 鞭 🪢",
    "e\u0301 and é",
    "\u202eleft",
    "'; DROP TABLE whips; --",
    '"><script>alert(1)</script>',
    "{label}",
    "readings",
    "undo",
    "x" * 200,
    "tab\there",
    "line\nbreak",
]


@pytest.mark.parametrize("label", HOSTILE)
def test_a_whip_is_found_edited_and_removed_whatever_its_label(blank: TestClient, label: str) -> None:
    added = blank.post(f"{API}/whips", json={"label": label})
    first = given(added, 201)
    assert first["record"]["label"] == label
    here = added.headers["location"]
    assert here.isascii()
    assert given(blank.get(here))["record"] == first["record"]
    edited = given(blank.patch(here, json={"version": first["version"], "changes": {"notes": "seen"}}))
    assert given(blank.get(here))["record"] == {"kind": "whip", "label": label, "notes": "seen"}
    given(blank.delete(here, params={"version": edited["version"]}))
    refused(blank.get(here), 404, "whip-not-found")


def test_two_spellings_of_one_letter_are_two_labels(blank: TestClient) -> None:
    for label in ("caf\u00e9", "cafe\u0301"):
        here = blank.post(f"{API}/whips", json={"label": label}).headers["location"]
        assert given(blank.get(here))["record"]["label"] == label


def test_blanks_round_a_name_are_taken_off_before_it_is_told_where_it_is(blank: TestClient) -> None:
    added = blank.post(f"{API}/makers", json={"name": "  Orrin "})
    assert added.headers["location"] == f"{API}/makers/Orrin"
    assert given(blank.get(added.headers["location"]))["record"]["name"] == "Orrin"


@pytest.mark.parametrize("name", ["%00", "a%00b", "%ff", "%ed%a0%80"])
def test_what_is_no_text_is_the_name_of_nothing(blank: TestClient, name: str) -> None:
    for place in ("whips", "cords", "makers"):
        refused(blank.get(f"{API}/{place}/{name}"), 404)


def test_a_name_that_is_not_there_is_answered_by_the_nearest(client: TestClient) -> None:
    for address, nearest in (("whips/2026-41", "2026-014"), ("cords/Rigde%204%20mm", "Ridge 4 mm")):
        error = refused(client.get(f"{API}/{address}"), 404)
        assert nearest in error["remedy"]
