"""The description tells all: every field with its unit, every status, examples that are taken."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.api.server import API, given
from tests.usecases.examples import RIDGE

UNITS = {"_mm": "mm", "_g": "g", "_g_per_m": "g/m", "_g_per_cm3": "g/cm3"}


@pytest.fixture(scope="module")
def description(blank: TestClient) -> dict[str, Any]:
    found: dict[str, Any] = given(blank.get(f"{API}/openapi.json"))
    return found


def operations(description: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for path, methods in description["paths"].items():
        for method, operation in methods.items():
            yield f"{method.upper()} {path}", operation


def keys(schema: Any, where: str) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every key of every object in a schema: where it stands, its name, what is said of it."""
    if isinstance(schema, dict):
        for name, key in schema.get("properties", {}).items():
            yield where, name, key
        for name, part in schema.items():
            yield from keys(part, f"{where}/{name}")
    elif isinstance(schema, list):
        for number, part in enumerate(schema):
            yield from keys(part, f"{where}/{number}")


def test_every_field_is_described_with_its_unit(description: dict[str, Any]) -> None:
    found = list(keys(description["components"]["schemas"], ""))
    assert len(found) > 150
    for where, name, key in found:
        text = key.get("description", "")
        assert text, f"{where}: {name} is not described"
        for ending, unit in UNITS.items():
            if name.endswith(ending):
                assert re.search(rf"(?<![a-z]){re.escape(unit)}(?![a-z/])", text), f"{where}: {name}: {text}"


def test_every_parameter_is_described(description: dict[str, Any]) -> None:
    for name, operation in operations(description):
        for parameter in operation.get("parameters", ()):
            assert parameter.get("description"), f"{name}: {parameter['name']}"


def test_every_operation_has_a_summary_a_tag_and_every_status(description: dict[str, Any]) -> None:
    for name, operation in operations(description):
        assert operation["summary"], name
        assert operation["description"], name
        assert len(operation["tags"]) == 1, name
        statuses = set(operation["responses"])
        expected = {"403", "422", "500", "503"}
        if "requestBody" in operation:
            expected |= {"400", "413", "415"}
        if "{" in name:
            expected.add("404")
        assert expected <= statuses, name
        assert any(status.startswith("2") for status in statuses), name


def test_every_failure_has_the_one_shape(description: dict[str, Any]) -> None:
    for name, operation in operations(description):
        for status, answer in operation["responses"].items():
            if status >= "400":
                shape = answer["content"]["application/json"]["schema"]
                assert shape == {"$ref": "#/components/schemas/Failure"}, f"{name} {status}"


def test_every_example_that_adds_is_taken_as_it_stands(
    blank: TestClient, description: dict[str, Any]
) -> None:
    given(blank.post(f"{API}/cords", json=RIDGE), 201)
    for noun in ("makers", "stock", "whips", "readings", "ratings", "predictions"):
        body = description["paths"][f"{API}/{noun}"]["post"]["requestBody"]["content"]["application/json"]
        for example in body["examples"].values():
            answer = blank.post(f"{API}/{noun}", json=example["value"])
            assert answer.status_code in {200, 201}, answer.text


def test_the_page_lists_every_operation_and_loads_nothing(
    blank: TestClient, description: dict[str, Any]
) -> None:
    answer = blank.get(API)
    assert answer.headers["content-type"].startswith("text/html")
    for name, _ in operations(description):
        method, path = name.split()
        assert f"<code>{method}</code></td><td><code>{path}</code>" in answer.text
    assert not re.search(r"<script|<img|<link|src=|//", answer.text.replace("<!doctype html>", ""))
    assert answer.headers["content-security-policy"].startswith("default-src 'none'; style-src 'sha256-")


def test_nothing_in_the_description_points_elsewhere(description: dict[str, Any]) -> None:
    assert not re.search(r"https?://", str(description))


@pytest.mark.parametrize("address", ["/docs", "/redoc", "/openapi.json"])
def test_the_pages_that_would_load_scripts_from_elsewhere_are_not_there(
    blank: TestClient, address: str
) -> None:
    assert blank.get(address).status_code == 404
