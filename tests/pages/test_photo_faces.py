"""One photo, three faces: by page, by the interface for programs or by command it leaves the same rows."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient
from typer.testing import CliRunner

from plaitlog.models.tables import HistoryEntryRow, HistoryRow, PhotoContentRow, PhotoRow
from plaitlog.service.cli.main import app
from tests.api.conftest import fill
from tests.api.server import API, given, serving
from tests.pages.conftest import HTML
from tests.usecases.pictures_taken import file, from_a_telephone, scene

LABEL = "2026-014"
PICTURES = {
    "a.jpg": ("image/jpeg", from_a_telephone(6)),
    "b.png": ("image/png", file(scene(90, 60), "PNG")),
    "c.webp": ("image/webp", file(scene(60, 90), "WEBP")),
}
Rows = dict[str, list[tuple[Any, ...]]]


@dataclass(frozen=True)
class Face:
    """How a photo of a whip is added, written under and removed, and a change undone and redone."""

    add: Callable[[str, str], object]
    write_under: Callable[[int, str], object]
    remove: Callable[[int], object]
    undo: Callable[[int], object]
    redo: Callable[[int], object]


def by_page(client: TestClient) -> Face:
    def post(address: str, data: dict[str, Any], **more: Any) -> None:
        answer = client.post(address, data=data, headers=HTML, follow_redirects=False, **more)
        assert answer.status_code == 303, answer.text

    def add(name: str, caption: str) -> None:
        media, content = PICTURES[name]
        form = {"whip": LABEL, "caption": caption}
        post("/photos", form, files=[("photo", (name, content, media))])

    return Face(
        add,
        lambda number, caption: post(f"/photos/{number}/caption", {"caption": caption}),
        lambda number: post(f"/photos/{number}/remove", {}),
        lambda change: post(f"/changes/{change}/undo", {}),
        lambda change: post(f"/changes/{change}/redo", {}),
    )


def by_program(client: TestClient) -> Face:
    def add(name: str, caption: str) -> None:
        media, content = PICTURES[name]
        asked = {"whip": LABEL, "caption": caption}
        headers = {"Content-Type": media}
        answer = client.post(f"{API}/photos", params=asked, content=content, headers=headers)
        assert given(client.get(answer.headers["location"]))["caption"] == given(answer, 201)["caption"]

    def version(number: int) -> int:
        found: int = given(client.get(f"{API}/photos/{number}"))["version"]
        return found

    def write_under(number: int, caption: str) -> None:
        edit = {"version": version(number), "changes": {"caption": caption}}
        given(client.patch(f"{API}/photos/{number}", json=edit))

    def remove(number: int) -> None:
        given(client.delete(f"{API}/photos/{number}", params={"version": version(number)}))

    return Face(
        add,
        write_under,
        remove,
        lambda change: given(client.post(f"{API}/history/{change}/undo"), 201),
        lambda change: given(client.post(f"{API}/history/{change}/redo"), 201),
    )


def by_command(database: str, folder: Path) -> Face:
    def run(*arguments: str) -> None:
        done = CliRunner().invoke(app, ["--database", database, *arguments])
        assert done.exit_code == 0, done.output

    for name, (_, content) in PICTURES.items():
        (folder / name).write_bytes(content)
    return Face(
        lambda name, caption: run("photos", LABEL, "--add", str(folder / name), "--caption", caption),
        lambda number, caption: run("photos", LABEL, "--under", str(number), "--caption", caption),
        lambda number: run("photos", LABEL, "--remove", str(number)),
        lambda change: run("undo", str(change)),
        lambda change: run("redo", str(change)),
    )


def rows(client: TestClient) -> Rows:
    """What is stored of photos, and what the history says of them, without when that was."""
    engine = client.app.state.engine  # type: ignore[attr-defined]
    found: Rows = {}
    with engine.connect() as connection:
        for kind in (PhotoRow, PhotoContentRow, HistoryRow, HistoryEntryRow):
            table = kind.__table__
            columns = [column for column in table.c if column.name not in {"created_at", "images"}]
            every = connection.execute(select(*columns).order_by(table.c.id))
            found[table.name] = [tuple(row) for row in every]
    return found


STEPS: list[tuple[str, Callable[[Face], object]]] = [
    *[(f"add {name}", lambda face, name=name: face.add(name, " on the  bench ")) for name in PICTURES],
    ("write under", lambda face: face.write_under(2, "the tip")),
    ("erase what is under it", lambda face: face.write_under(3, "")),
    ("remove", lambda face: face.remove(1)),
]


@pytest.fixture
def workshops(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[dict[str, tuple[TestClient, Face]]]:
    """The same records three times, each with one face to work through."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    files = {name: str(tmp_path / f"{name}.db") for name in ("page", "program", "command")}
    for database in files.values():
        fill(database)
    with (
        serving(files["page"]) as page,
        serving(files["program"]) as program,
        serving(files["command"]) as command,
    ):
        yield {
            "page": (page, by_page(page)),
            "program": (program, by_program(program)),
            "command": (command, by_command(files["command"], tmp_path)),
        }


def test_every_face_leaves_the_same_rows_step_by_step_undone_and_redone(
    workshops: dict[str, tuple[TestClient, Face]],
) -> None:
    stories = {}
    for name, (client, face) in workshops.items():
        states = [rows(client)]
        changes = []
        for _, step in STEPS:
            step(face)
            states.append(rows(client))
            changes.append(latest(client))
        done = photos_in(states)
        for change in reversed(changes):
            face.undo(change)
            states.append(rows(client))
        assert photos_in(states)[len(STEPS) :] == done[::-1], f"undone by {name}"
        for change in changes:
            face.redo(change)
            states.append(rows(client))
        assert photos_in(states)[2 * len(STEPS) :] == done, f"redone by {name}"
        stories[name] = states
    labels = ["before", *(label for label, _ in STEPS)]
    for number, state in enumerate(stories["page"]):
        step_name = labels[number] if number < len(labels) else f"undo or redo {number - len(labels) + 1}"
        for name in ("program", "command"):
            assert stories[name][number] == state, f"{step_name}, by {name}"
    assert len(stories["page"][3]["photos"]) == len(PICTURES)
    assert len(stories["page"][-1]["photo_contents"]) == len(PICTURES)
    assert [len(state) for state in photos_in(stories["page"])[:7]] == [0, 1, 2, 3, 3, 3, 2]


def test_a_picture_added_by_one_face_is_there_already_for_the_others(
    workshops: dict[str, tuple[TestClient, Face]], tmp_path: Path
) -> None:
    client, face = workshops["command"]
    face.add("a.jpg", "")
    before = rows(client)
    by_page(client).add("a.jpg", "once more")
    face.add("a.jpg", "once more")
    media, content = PICTURES["a.jpg"]
    sent = {"params": {"whip": LABEL}, "content": content}
    answer = client.post(f"{API}/photos", headers={"Content-Type": media}, **sent)  # type: ignore[arg-type]
    assert answer.status_code == 409
    assert rows(client) == before
    shown = re.findall(r'src="/photos/(\d+)/small"', client.get(f"/whips/{LABEL}", headers=HTML).text)
    assert shown == [str(one["key"]) for one in given(client.get(f"{API}/photos"))["items"]] == ["1"]
    whole = client.get("/photos/1/whole").content
    assert client.get(f"{API}/photos/1/picture").content == whole


def latest(client: TestClient) -> int:
    found: int = given(client.get(f"{API}/history", params={"limit": 1}))["items"][0]["change"]
    return found


def photos_in(states: list[Rows]) -> list[list[tuple[Any, ...]]]:
    return [state["photos"] for state in states]
