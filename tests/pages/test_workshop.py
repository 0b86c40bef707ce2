"""The directory of the workshop, its makers, and the settings."""

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.preferences import preferences
from plaitlog.service.usecases.shown_units import ShownUnits


@pytest.fixture(autouse=True)
def own_preferences(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


def data(client: TestClient, address: str) -> dict[str, Any]:
    answer = client.get(address, headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_the_directory_leads_everywhere(client: TestClient) -> None:
    found = data(client, "/workshop")
    for place in found["places"]:
        assert client.get(place["address"]).status_code == 200, place
    assert found["counts"]["whips"] == data(client, "/whips")["of"]


def test_a_maker_is_added_renamed_and_removed(client: TestClient) -> None:
    added = client.post("/makers", data={"name": "Wilmer / B"})
    assert "maker Wilmer / B added" in added.text
    again = client.post("/makers", data={"name": "Wilmer / B"})
    assert again.status_code == 409
    assert 'value="Wilmer / B"' in again.text
    assert "already" in again.text
    address = "/makers/Wilmer%20%2F%20B"
    version = data(client, address)["version"]
    renamed = client.post(
        address, data={"name": "Wilmer", "version": version, "do": "rename"}, follow_redirects=False
    )
    assert renamed.status_code == 303, renamed.text
    assert renamed.headers["location"].startswith("/makers/Wilmer?change=")
    stale = client.post("/makers/Wilmer", data={"name": "T", "version": version, "do": "rename"})
    assert stale.status_code == 409
    assert 'value="T"' in stale.text
    version = data(client, "/makers/Wilmer")["version"]
    gone = client.post("/makers/Wilmer", data={"version": version, "do": "remove"})
    assert "maker Wilmer removed" in gone.text
    assert [maker["name"] for maker in data(client, "/makers")["makers"]] == ["Orrin", "Tamsin"]


def test_a_maker_whom_whips_name_stays(client: TestClient) -> None:
    refused = client.post("/makers/Orrin", data={"do": "remove"})
    assert refused.status_code == 422
    assert "2026-014" in refused.text
    assert data(client, "/makers/Orrin")["whips"] > 0
    nameless = client.post("/makers", data={"name": "  "})
    assert nameless.status_code == 422


def test_settings_hold_for_every_page(client: TestClient) -> None:
    before = data(client, "/whips")["rows"][0]
    kept = client.post(
        "/settings",
        data={"lengths": "cm", "diameters": "in", "fractions": "no", "mark": "comma", "maker": " Orrin "},
    )
    assert "Kept" in kept.text
    assert preferences().units == ShownUnits("cm", "in", fractions=False, decimal_comma=True)
    assert preferences().maker == "Orrin"
    found = data(client, "/whips?text=2026-014")
    heads = [head["name"] for head in found["heads"]]
    assert "thick end, in" in heads
    assert before["cells"] != found["rows"][0]["cells"]
    texts = [cell["text"] for cell in found["rows"][0]["cells"]]
    assert "183 cm" in texts
    shown = data(client, "/settings")
    assert shown["texts"]["mark"] == "comma"
    assert shown["texts"]["maker"] == "Orrin"


def test_settings_that_cannot_be_are_shown_again_as_sent(client: TestClient) -> None:
    sent = {"lengths": "furlong", "diameters": "mm", "fractions": "yes", "mark": "point", "maker": "Tamsin"}
    refused = client.post("/settings", data=sent)
    assert refused.status_code == 422
    assert "furlong" in refused.text
    assert 'value="Tamsin"' in refused.text
    assert preferences().units is None
    assert preferences().maker is None
