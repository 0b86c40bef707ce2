"""What is sent is never guessed at: undecodable, of the wrong kind, too long, not a record."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.api.server import API, given, refused, serving

JSON = {"Content-Type": "application/json"}


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        (b"", "empty"),
        (b"  \n", "empty"),
        (b"{", "not-json"),
        (b'{"name":"Orrin"} and more', "not-json"),
        (b"\xff\xfe{\x00}\x00", "not-utf-8"),
        (b'{"name":"Orr\xedn"}', "not-utf-8"),
        (b'{"name":"a","name":"b"}', "key-twice"),
        (b'{"name":NaN}', "not-finite"),
        (b'{"name":1e999}', "not-finite"),
        (b'{"name":' + b"9" * 5000 + b"}", "not-json"),
        (b'{"name":' + b"[" * 100 + b"]" * 100 + b"}", "too-deep"),
        (b'{"name":' + b"[" * 100_000, "not-json"),
        (b'{"name":"\\ud800"}', "not-text"),
        (b'{"name":"\\u0000"}', "not-text"),
    ],
)
@pytest.mark.parametrize("place", ["makers", "whips", "predictions", "fits"])
def test_an_undecodable_body_is_answered_by_400(
    blank: TestClient, place: str, sent: bytes, code: str
) -> None:
    refused(blank.post(f"{API}/{place}", content=sent, headers=JSON), 400, code)


@pytest.mark.parametrize("sent", [b"[]", b"3", b"null", b'"Orrin"', b"true"])
def test_json_that_is_no_object_is_answered_by_422(blank: TestClient, sent: bytes) -> None:
    refused(blank.post(f"{API}/makers", content=sent, headers=JSON), 422, "not-an-object")


@pytest.mark.parametrize(
    "kind", [None, "text/plain", "application/x-www-form-urlencoded", "jsn", "multipart/form-data"]
)
def test_another_kind_of_content_is_answered_by_415(blank: TestClient, kind: str | None) -> None:
    headers = {} if kind is None else {"Content-Type": kind}
    error = refused(blank.post(f"{API}/makers", content=b'{"name":"Orrin"}', headers=headers), 415)
    assert "application/json" in error["remedy"]


def test_json_may_say_how_it_is_encoded(blank: TestClient) -> None:
    headers = {"Content-Type": "Application/JSON; charset=utf-8"}
    given(blank.post(f"{API}/makers", content=b'{"name":"Tamsin"}', headers=headers), 201)


def test_a_body_too_long_is_answered_by_413_whether_or_not_it_says_how_long(tmp_path: Path) -> None:
    with serving(str(tmp_path / "a.db"), body_limit_bytes=1_000, upload_limit_bytes=2_000) as client:
        long = b'{"name":"' + b"x" * 1_000 + b'"}'
        refused(client.post(f"{API}/makers", content=long, headers=JSON), 413, "too-long")
        refused(client.post(f"{API}/makers", content=iter([long]), headers=JSON), 413, "too-long")
        lines = {"Content-Type": "application/jsonl"}
        refused(client.post(f"{API}/imports", content=long * 2, headers=lines), 413, "too-long")
        refused(client.post(f"{API}/imports", content=iter([long, long]), headers=lines), 413, "too-long")
        claimed = {**JSON, "Content-Length": "9" * 30}
        refused(client.post(f"{API}/makers", content=b"{}", headers=claimed), 413, "too-long")
        assert given(client.get(f"{API}/makers"))["total"] == 0


def test_everything_that_is_wrong_with_a_record_is_told_at_once(blank: TestClient) -> None:
    record = {"name": 3, "construction": "braided", "diameter_mm": -4, "weigth": 1}
    answer = blank.post(f"{API}/cords", json=record)
    refused(answer, 422)
    found = {finding["where"]: finding for finding in answer.json()["findings"]}
    assert set(found) == {"name", "material", "construction", "diameter_mm", "weigth"}
    assert all(finding["remedy"] for finding in found.values())
    assert "cored" in found["construction"]["remedy"]


def test_a_record_of_another_kind_is_not_taken(blank: TestClient) -> None:
    error = refused(blank.post(f"{API}/makers", json={"kind": "cord", "name": "Orrin"}), 422, "wrong-kind")
    assert error["where"] == "kind"
    given(blank.post(f"{API}/makers", json={"kind": "maker", "name": "Orrin"}), 201)


@pytest.mark.parametrize(
    ("edit", "where"),
    [
        ({"changes": {}}, "version"),
        ({"version": 1}, "changes"),
        ({"version": "1", "changes": {}}, "version"),
        ({"version": True, "changes": {}}, "version"),
        ({"version": -1, "changes": {}}, "version"),
        ({"version": 1, "changes": []}, "changes"),
        ({"version": 1, "changes": {}, "notes": "x"}, "notes"),
    ],
)
def test_an_edit_names_its_version_and_its_changes(client: TestClient, edit: object, where: str) -> None:
    assert refused(client.patch(f"{API}/whips/2026-014", json=edit), 422)["where"] == where


def test_a_removal_names_its_version(client: TestClient) -> None:
    assert refused(client.delete(f"{API}/whips/2026-014"), 422, "missing")["where"] == "query, version"
    given(client.get(f"{API}/whips/2026-014"))
