"""The history as a page: changes in words, undo that leads back, refusals that name what is in the way."""

from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.pages.workshop import history as pages
from plaitlog.service.pages.workshop.going_back import local

LABEL = "2026-014"
API = "/api/v1"


def data(client: TestClient, address: str) -> dict[str, Any]:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def edit(client: TestClient, changes: dict[str, Any]) -> int:
    address = f"{API}/whips/{LABEL}"
    version = client.get(address).json()["version"]
    answer = client.patch(address, json={"version": version, "changes": changes})
    assert answer.status_code == 200, answer.text
    return int(data(client, "/changes")["changes"][0]["number"])


def undo(client: TestClient, number: int, back: str, how: str = "undo") -> Any:
    return client.post(f"/changes/{number}/{how}", data={"back": back}, follow_redirects=False)


def test_changes_are_told_in_words_and_units(client: TestClient) -> None:
    number = edit(client, {"weight_g": 420, "notes": None, "thong_length_mm": 1676.4})
    (told,) = (one for one in data(client, "/changes")["changes"] if one["number"] == number)
    (entry,) = told["entries"]
    assert entry["words"].startswith(f"whip {LABEL}: ")
    assert "thong length from 6 ft to 5 ft 6 in" in entry["words"]
    assert "to 420 g" in entry["words"]
    assert "taken away" in entry["words"]
    assert "_mm" not in entry["words"]
    assert "_g" not in entry["words"]
    assert entry["address"] == f"/whips/{LABEL}"


def test_an_undo_leads_back_and_says_so_and_can_be_done_again(client: TestClient) -> None:
    number = edit(client, {"notes": "for the winter"})
    answer = undo(client, number, f"/whips/{LABEL}")
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/whips/{LABEL}?change={number + 1}"
    told = data(client, answer.headers["location"])
    assert told["banner"]["action"] == "undo"
    assert "notes" in told["banner"]["words"][0]
    assert client.get(f"{API}/whips/{LABEL}").json()["record"].get("notes") != "for the winter"
    changes = {one["number"]: one for one in data(client, "/changes")["changes"]}
    assert changes[number]["redo"]
    assert not changes[number]["undo"]
    undo(client, number, "/changes", "redo")
    assert client.get(f"{API}/whips/{LABEL}").json()["record"]["notes"] == "for the winter"


def test_an_undo_that_takes_the_page_away_leads_to_the_list(client: TestClient) -> None:
    client.post(f"{API}/whips", json={"label": "a/b 1"})
    number = data(client, "/changes")["changes"][0]["number"]
    answer = undo(client, number, "/whips/a%2Fb%201")
    assert answer.headers["location"] == f"/whips?change={number + 1}"
    assert "whip a/b 1 removed" in client.get(answer.headers["location"]).text


def test_the_button_of_the_banner_leads_back_to_a_name_of_any_kind(client: TestClient) -> None:
    label = "2026/9 ?#%"
    made = client.post(f"{API}/whips", json={"label": label})
    number = data(client, "/changes")["changes"][0]["number"]
    assert made.status_code == 201
    text = client.get(f"/whips/2026%2F9%20%3F%23%25?change={number}").text
    assert 'name="back" value="/whips/2026%2F9%20%3F%23%25"' in text


@pytest.mark.parametrize(
    "back",
    [
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/\\elsewhere.example",
        "\\\\elsewhere.example",
        "/\t/elsewhere.example",
        "javascript:alert(1)",
        "whips",
        "",
        "/whips\r\nSet-Cookie: a=b",
        "/" + "x" * 5000,
    ],
)
def test_no_address_from_elsewhere_is_gone_to(back: str) -> None:
    assert local(back, "/changes") == "/changes"


def test_an_undo_sent_from_elsewhere_stays_here(client: TestClient) -> None:
    answer = undo(client, 1, "//elsewhere.example/whips")
    assert answer.headers["location"].startswith("/changes?change=")


def test_a_refused_undo_names_what_stands_in_the_way(client: TestClient) -> None:
    first = edit(client, {"notes": "one"})
    second = edit(client, {"notes": "two"})
    answer = undo(client, first, "/changes")
    assert answer.status_code == 409
    assert f'<a href="/changes/{second}">undo change {second} first</a>' in answer.text
    assert f'name="back" value="/changes/{first}"' in answer.text  # not where the refusal stands
    assert client.get(f"{API}/whips/{LABEL}").json()["record"]["notes"] == "two"
    undo(client, second, "/changes")
    again = undo(client, second, "/changes")
    assert again.status_code == 409
    assert "undone already" in again.text
    assert "plaitlog" not in again.text


def test_narrowed_to_one_noun_and_read_by_the_page(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "CHANGES", 3)
    numbers = [edit(client, {"notes": str(number)}) for number in range(5)]
    client.post(f"{API}/makers", json={"name": "Wilmer"})
    found = data(client, f"/changes?kind=whip&name={LABEL}")
    assert [one["number"] for one in found["changes"]] == numbers[:1:-1]
    rest = data(client, found["earlier"])
    assert [one["number"] for one in rest["changes"]][:2] == numbers[1::-1]
    assert "Wilmer" not in client.get(found["earlier"]).text
    none = client.get("/changes?kind=whip&name=nobody")
    assert "No change is like that" in none.text


def test_nothing_changed_yet(empty: TestClient) -> None:
    assert "Nothing was changed yet" in empty.get("/changes").text
    assert empty.get("/changes/7").status_code == 404


def test_a_page_sends_nobody_to_the_terminal(client: TestClient) -> None:
    for address in ("/whips/nobody", "/cords/nobody", "/makers/nobody", "/changes/999"):
        answer = client.get(address)
        assert answer.status_code == 404, address
        assert "plaitlog " not in answer.text, address
