"""The taper of a whip over the interface."""

from urllib.parse import quote

from starlette.testclient import TestClient

from plaitlog.models.handling.definitions import DEFINITIONS
from plaitlog.service.schemas.tapers import TaperOut
from tests.api.server import API, given, refused


def test_a_recorded_whip_is_told_in_the_shape_that_is_promised(client: TestClient) -> None:
    told = TaperOut.model_validate(given(client.get(f"{API}/tapers/2026-014")))
    assert told.label == "2026-014"
    names = [one.name for one in told.parameters]
    assert names == [one.name for one in DEFINITIONS if one.name in names]
    for one in told.parameters:
        assert one.low_90 <= one.value <= one.high_90
    assert told.predicted_from is not None
    assert "no fit is stored" in told.predicted_from


def test_a_label_may_hold_slashes(empty: TestClient) -> None:
    given(empty.post(f"{API}/whips", json={"label": "old/3"}), 201)
    told = given(empty.get(f"{API}/tapers/{quote('old/3', safe='')}"))
    assert told["parameters"] == []
    assert told["taper"] is None
    assert all(one["remedy"] for one in told["findings"])


def test_a_whip_that_is_not_there_is_refused_with_the_nearest(client: TestClient) -> None:
    error = refused(client.get(f"{API}/tapers/2026-41"), 404, "whip-not-found")
    assert "2026-014" in error["remedy"]
