"""One visit through each face: a rating, an edit, an undo and a redo, a maker renamed, a whip removed.

Recording, measuring, cords, plans, fits, imports, backups and photos are compared in files of their own.
"""

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from plaitlog.service.cli.main import app
from tests.api.conftest import fill
from tests.api.server import API, given, serving
from tests.pages.conftest import HTML
from tests.pages.test_editing import facts_form

WHIP = "2026-014"
RATING = {
    "whip": WHIP,
    "by": "Wenna",
    "on": "2026-03-09",
    "hours_of_use": 4.5,
    "scores": {"ease": 7, "volley": "not tried"},
    "feel": {"slow_quick": -1},
}
TABLES = ("makers", "whips", "layers", "readings", "rating_sessions", "scores")


def recorded(database: str) -> dict[str, Any]:
    """What is recorded, and what the history says was done to what, but when."""
    with sqlite3.connect(database) as connection:
        connection.row_factory = sqlite3.Row
        found = {
            table: [dict(row) for row in connection.execute(f"SELECT * FROM {table} ORDER BY id")]
            for table in TABLES
        }
        said = "SELECT kind, name, former_name, before, after FROM history_entries ORDER BY id"
        found["said"] = [dict(row) for row in connection.execute(said)]
    for row in (row for rows in found.values() for row in rows):
        row.pop("created_at", None)
    return found


def sent(client: TestClient, address: str, **fields: Any) -> str:
    answer = client.post(address, data=fields, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def by_pages(database: str, folder: Path) -> None:
    with serving(database) as client:
        client.headers.update(HTML)
        form = {"by": "Wenna", "on": "2026-03-09", "hours_of_use": "4,5", "score.ease": "7"}
        form |= {"score.volley": "not tried", "feel.slow_quick": "-1"}
        number = sent(client, f"/rate/{WHIP}", **form).rpartition("=")[2]
        sent(client, f"/changes/{number}/undo")
        sent(client, f"/changes/{number}/redo")
        found = client.get(f"/edit/{WHIP}", headers={"Accept": "application/json"}).json()
        sent(client, f"/edit/{WHIP}", **facts_form(found, hours="12"))
        maker = client.get("/makers/Tamsin", headers={"Accept": "application/json"}).json()
        sent(client, "/makers/Tamsin", name="Tamsin B", version=maker["version"], do="rename")
        page = client.get("/whips/old%203", headers={"Accept": "application/json"}).json()
        sent(client, "/edit/old%203", do="remove-whip", version=page["version"])


def by_interface(database: str, folder: Path) -> None:
    with serving(database) as client:
        number = given(client.post(f"{API}/ratings", json=RATING), 201)["change"]
        given(client.post(f"{API}/history/{number}/undo"), 201)
        given(client.post(f"{API}/history/{number}/redo"), 201)
        for address, changes in (
            (f"whips/{WHIP}", {"hours": 12}),
            ("makers/Tamsin", {"name": "Tamsin B"}),
        ):
            version = given(client.get(f"{API}/{address}"))["version"]
            given(client.patch(f"{API}/{address}", json={"version": version, "changes": changes}))
        version = given(client.get(f"{API}/whips/old%203"))["version"]
        given(client.delete(f"{API}/whips/old%203", params={"version": version}))


def by_commands(database: str, folder: Path) -> None:
    file = folder / "rating.jsonl"
    file.write_text(json.dumps({"kind": "rating", **RATING}) + "\n")
    for command in (
        ["import", str(file)],
        ["undo"],
        ["redo"],
        ["edit", WHIP, "hours=12"],
        ["edit", "Tamsin", "name=Tamsin B", "--kind", "maker"],
        ["remove", "old 3"],
    ):
        done = CliRunner().invoke(app, ["--database", database, *command])
        assert done.exit_code == 0, done.output


@pytest.fixture
def left(tmp_path: Path) -> Callable[[Callable[[str, Path], None]], dict[str, Any]]:
    def left(face: Callable[[str, Path], None]) -> dict[str, Any]:
        folder = tmp_path / face.__name__
        folder.mkdir()
        database = str(folder / "plaitlog.db")
        fill(database)
        face(database, folder)
        return recorded(database)

    return left


def test_each_face_leaves_the_same_rows(
    left: Callable[[Callable[[str, Path], None]], dict[str, Any]],
) -> None:
    pages = left(by_pages)
    assert any(session["by"] == "Wenna" for session in pages["rating_sessions"])
    assert left(by_interface) == pages
    assert left(by_commands) == pages
