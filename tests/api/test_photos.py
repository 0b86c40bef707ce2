"""Photos for programs: sent as they are, given back bare, refused in the one shape."""

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from tests.api.server import API, given, refused, serving
from tests.usecases.pictures_taken import CAMERA, file, from_a_telephone, scene

PHOTOS = f"{API}/photos"
JPEG = {"Content-Type": "image/jpeg"}


def sent(client: TestClient, content: bytes, headers: dict[str, str] = JPEG, **asked: str) -> Any:
    return client.post(PHOTOS, params={"whip": "2026-014", **asked}, content=content, headers=headers)


def test_a_photo_is_added_read_edited_removed_and_brought_back(client: TestClient) -> None:
    answer = sent(client, from_a_telephone(6), caption=" the  tip ")
    added = given(answer, 201)
    here = answer.headers["location"]
    assert here == f"{PHOTOS}/{added['key']}"
    assert (added["whip"], added["caption"], added["width"], added["height"]) == (
        "2026-014",
        "the tip",
        480,
        640,
    )
    picture = client.get(added["picture"])
    assert picture.headers["content-type"] == "image/jpeg"
    assert CAMERA.encode() not in picture.content
    assert Image.open(io.BytesIO(picture.content)).size == (480, 640)

    edit = {"version": added["version"], "changes": {"caption": "the handle"}}
    edited = given(client.patch(here, json=edit))
    assert (edited["caption"], edited["version"]) == ("the handle", edited["change"])
    stale = client.patch(here, json={"version": added["version"], "changes": {"caption": "the fall"}})
    refused(stale, 409, "stale-edit")
    assert stale.json()["conflict"] == {
        "version": edited["version"],
        "values": [{"key": "caption", "typed": "the fall", "stored": "the handle"}],
    }
    refused(client.delete(here, params={"version": added["version"]}), 409, "stale-edit")
    nothing = given(client.patch(here, json={"version": edited["version"], "changes": {}}))
    assert (nothing["change"], nothing["caption"]) == (None, "the handle")
    erased = given(client.patch(here, json={"version": edited["version"], "changes": {"caption": None}}))
    assert erased["caption"] is None

    removed = given(client.delete(here, params={"version": erased["version"]}))
    refused(client.get(here), 404, "photo-not-found")
    refused(client.get(added["picture"]), 404, "photo-not-found")
    given(client.post(f"{API}/history/{removed['change']}/undo"), 201)
    assert given(client.get(here))["version"] == erased["version"]


def test_photos_are_listed_by_the_page_and_by_the_whip(client: TestClient) -> None:
    for turn in (1, 3, 6):
        given(sent(client, from_a_telephone(turn, width=64, height=48)), 201)
    given(sent(client, from_a_telephone(), whip="old 3"), 201)
    page = given(client.get(PHOTOS, params={"whip": "2026-014", "limit": 2, "offset": 1}))
    assert (page["total"], page["offset"], [one["key"] for one in page["items"]]) == (3, 1, [2, 3])
    assert [one["whip"] for one in given(client.get(PHOTOS))["items"]] == ["2026-014"] * 3 + ["old 3"]


def test_a_photo_sent_twice_is_kept_once(client: TestClient) -> None:
    once = {**JPEG, "Idempotency-Key": "9c1f"}
    first = given(sent(client, from_a_telephone(), once), 201)
    assert given(sent(client, from_a_telephone(), once), 201) == first
    refused(sent(client, from_a_telephone()), 409, "photo-exists")
    assert given(client.get(PHOTOS))["total"] == 1


@pytest.mark.parametrize(
    ("content", "kind", "asked", "status", "code"),
    [
        (b"", "image/jpeg", {}, 422, "not-a-photo"),
        (b"whip;D0\n", "image/png", {}, 422, "not-a-photo"),
        (from_a_telephone()[:3000], "image/jpeg", {}, 422, "photo-damaged"),
        (file(scene(8, 8)), "image/jpeg", {}, 422, "photo-too-small"),
        (from_a_telephone(), "image/heic", {}, 415, "content-type"),
        (from_a_telephone(), "application/json", {}, 415, "content-type"),
        (from_a_telephone(), "image/jpeg", {"caption": "x" * 501}, 422, "caption-too-long"),
        (from_a_telephone(), "image/jpeg", {"caption": "half \0"}, 422, "not-text"),
        (from_a_telephone(), "image/jpeg", {"whip": "2026-01"}, 404, "whip-not-found"),
        (from_a_telephone(), "image/jpeg", {"whip": ""}, 422, "parameter"),
        (from_a_telephone(), "image/jpeg", {"label": "x"}, 422, "unknown-parameter"),
    ],
    ids=str,
)
def test_what_cannot_be_taken_is_told_and_nothing_is_added(
    client: TestClient, content: bytes, kind: str, asked: dict[str, str], status: int, code: str
) -> None:
    assert refused(sent(client, content, {"Content-Type": kind}, **asked), status, code)["remedy"]
    assert given(client.get(PHOTOS))["total"] == 0


def test_a_picture_too_large_is_answered_by_413_whether_or_not_it_says_how_large(tmp_path: Path) -> None:
    with serving(str(tmp_path / "a.db"), upload_limit_bytes=2_000) as client:
        large = from_a_telephone()
        assert len(large) > 2_000
        for content in (large, iter([large])):
            refused(sent(client, content), 413, "too-long")  # type: ignore[arg-type]
    with serving(str(tmp_path / "a.db")) as client:
        claimed = {**JPEG, "Content-Length": "30000001"}
        refused(sent(client, b"", claimed), 413, "too-long")


@pytest.mark.parametrize(
    ("edit", "where"),
    [
        ({"changes": {"caption": "x"}}, "version"),
        ({"version": 1, "changes": {"caption": 3}}, "caption"),
        ({"version": 1, "changes": {"width": 3}}, "width"),
        ({"version": 1, "changes": {"caption": "x" * 501}}, "caption"),
    ],
    ids=str,
)
def test_an_edit_changes_nothing_but_the_caption(
    client: TestClient, edit: dict[str, Any], where: str
) -> None:
    added = given(sent(client, from_a_telephone()), 201)
    if "version" in edit:
        edit = {**edit, "version": added["version"]}
    assert refused(client.patch(f"{PHOTOS}/{added['key']}", json=edit), 422)["where"] == where
