"""Charts and drawings: pictures that are pictures, numbers that are those of the predictions."""

import xml.etree.ElementTree as ET

import pytest
from starlette.testclient import TestClient

from tests.api.server import API, given, refused

PLACES = [f"{API}/charts/cords/Ridge 4 mm", f"{API}/charts/whips/2026-014"]
FORMS = [
    ("svg", "image/svg+xml", b"<svg"),
    ("png", "image/png", b"\x89PNG\r\n\x1a\n"),
    ("pdf", "application/pdf", b"%PDF-"),
]


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize(("form", "media", "start"), FORMS)
def test_a_picture_is_of_the_kind_that_is_asked_for(
    client: TestClient, place: str, form: str, media: str, start: bytes
) -> None:
    answer = client.get(place, params={"format": form})
    assert answer.status_code == 200
    assert answer.headers["content-type"].partition(";")[0] == media
    assert answer.content.lstrip().startswith(start)
    assert "script" not in answer.headers["content-security-policy"]


@pytest.mark.parametrize("place", PLACES)
def test_a_drawing_opened_by_itself_loads_and_runs_nothing(client: TestClient, place: str) -> None:
    for element in ET.fromstring(client.get(place).text).iter():
        assert not element.tag.endswith(("script", "foreignObject"))
        for name, value in element.attrib.items():
            assert not name.lower().startswith("on")
            assert "://" not in value


def test_the_numbers_of_a_chart_are_those_of_the_predictions(client: TestClient) -> None:
    chart = given(client.get(PLACES[0], params={"format": "json", "over_mm": 8, "maker": "Orrin"}))
    (curve,) = chart["curves"]
    assert curve["over_mm"] == 8
    point = next(point for point in curve["points"] if point["strands"] == 12)
    overlay = {"role": "overlay", "cord": "Ridge 4 mm", "strands": 12}
    asked = {"maker": "Orrin", "foundation_mm": 8, "layers": [overlay]}
    answer = given(client.post(f"{API}/predictions", json={"questions": [asked]}))["answers"][0]
    for key in ("diameter_mm", "low_90_mm", "high_90_mm"):
        assert point[key] == pytest.approx(answer[key], rel=1e-9)


def test_the_numbers_of_a_drawing_are_those_of_the_record(client: TestClient) -> None:
    drawing = given(client.get(PLACES[1], params={"format": "json"}))
    first = drawing["sections"][0]
    assert [layer["role"] for layer in first["layers"]] == ["core", "belly", "binding", "overlay"]
    assert first["layers"][0]["count"] == {"low": 6, "high": 6}
    assert sorted(reading["diameter_mm"] for reading in drawing["readings"])[-1] == 22.3


def test_a_part_of_a_name_is_not_enough_and_a_bare_label_cannot_be_drawn(client: TestClient) -> None:
    refused(client.get(f"{API}/charts/cords/Ridge"), 404, "cord-not-found")
    refused(client.get(f"{API}/charts/whips/nothing"), 404, "whip-not-found")
    given(client.post(f"{API}/whips", json={"label": "bare"}), 201)
    refused(client.get(f"{API}/charts/whips/bare"), 409)
    refused(client.get(PLACES[0], params={"format": "gif"}), 422)
