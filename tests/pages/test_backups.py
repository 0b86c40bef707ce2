"""Backups by pages: what is restored is there at once, what it replaced comes back the same way."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from plaitlog.service.database import write
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.jobs import ask_for, one_job, take_up
from tests.api.conftest import fill
from tests.api.server import serving
from tests.backups.contents import FIRST
from tests.conftest import BOTH
from tests.pages.conftest import HTML

LATER = [{"kind": "whip", "label": "later"}]


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))


@pytest.fixture(params=BOTH)
def both(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[TestClient]:
    """Pages of a workshop with the records of the examples, on both kinds of database."""
    sqlite = request.param == "sqlite"
    database = str(tmp_path / "plaitlog.db") if sqlite else str(request.getfixturevalue("postgresql_url"))
    fill(database)
    with serving(database) as client:
        client.headers.update(HTML)
        yield client


def records(client: TestClient) -> bytes:
    content: bytes = client.get("/export/records.jsonl").content
    return content


def fit(client: TestClient) -> Any:
    return client.get("/export", params={"as": "json"}).json()["fit"]


def backups(client: TestClient) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = client.get("/backups", params={"as": "json"}).json()["backups"]
    return found


def restored(client: TestClient, address: str) -> str:
    """Confirm a restore; gives where it leads to."""
    seen = client.get(address, params={"as": "json"}).json()["seen"]
    answer = client.post(address, data={"seen": seen, "sure": "yes"}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    location: str = answer.headers["location"]
    return location


def test_made_changed_restored_and_everything_as_before(both: TestClient) -> None:
    before = records(both)
    assert "Backed up and checked" in both.post("/backups").text
    [one] = backups(both)
    write(both.app.state.engine, lambda session: take_records(session, LATER))
    changed = records(both)
    address = f"/backups/restore/{one['name']}"
    compared = both.get(address, params={"as": "json"}).json()
    whips = next(row for row in compared["rows"] if row["what"] == "Whips")
    assert whips["here"] == whips["backup"] + 1
    assert compared["backup_change"] != compared["here_change"]
    assert records(both) == changed, "looking restores nothing"
    done = restored(both, address)
    assert records(both) == before
    page = both.get(done)
    assert "Bring it back" in page.text
    kept = backups(both)[0]
    assert kept["why"] == "before a restore"
    restored(both, f"/backups/restore/{kept['name']}")
    assert records(both) == changed


def test_a_file_of_an_older_version_is_taken_and_no_fit_is_served_that_is_gone(demo: TestClient) -> None:
    """The fit is kept in memory by the server: after a restore it must not be met any more."""
    before = records(demo)
    assert fit(demo) == 1
    sent = demo.post(
        "/backups/upload", files={"file": (FIRST.name, FIRST.read_bytes())}, follow_redirects=False
    )
    restored(demo, sent.headers["location"])
    assert fit(demo) is None
    assert b'"label":"2026-014"' in records(demo)
    assert demo.get(sent.headers["location"]).status_code == 404, "the file that was sent is gone"
    restored(demo, f"/backups/restore/{backups(demo)[0]['name']}")
    assert fit(demo) == 1
    assert records(demo) == before


def test_nothing_is_restored_unless_it_was_confirmed_as_things_stand(client: TestClient) -> None:
    client.post("/backups")
    address = f"/backups/restore/{backups(client)[0]['name']}"
    seen = client.get(address, params={"as": "json"}).json()["seen"]
    assert client.post(address, data={"seen": seen}).status_code == 409
    write(client.app.state.engine, lambda session: take_records(session, LATER))
    refused = client.post(address, data={"seen": seen, "sure": "yes"})
    assert refused.status_code == 409
    assert "something was changed here" in refused.text
    assert b"later" in records(client)


def test_long_work_has_to_end_first_and_none_is_left_running(client: TestClient) -> None:
    engine = client.app.state.engine
    number, _ = write(engine, lambda session: ask_for(session, "fit", {"evidence": False}))
    write(engine, lambda session: take_up(session, number))
    client.post("/backups")
    address = f"/backups/restore/{backups(client)[0]['name']}"
    seen = client.get(address, params={"as": "json"}).json()["seen"]
    refused = client.post(address, data={"seen": seen, "sure": "yes"})
    assert refused.status_code == 409
    assert f"/jobs/{number}" in refused.text
    client.app.state.jobs.cancel(number)
    restored(client, address)
    assert write(engine, lambda session: one_job(session, number)).state == "interrupted"


def test_what_is_no_backup_is_refused_by_its_name(client: TestClient, tmp_path: Path) -> None:
    for content, said in ((b"hello", "is not a backup"), (FIRST.read_bytes()[:20_000], "is damaged")):
        answer = client.post("/backups/upload", files={"file": ("../../my.db", content)})
        assert answer.status_code == 422
        assert f"my.db {said}" in answer.text
        assert str(tmp_path) not in answer.text.replace(str(tmp_path / "backups"), "")
    assert client.post("/backups/upload", data={}).status_code == 422


def test_only_what_is_in_the_list_is_handed_out(client: TestClient, tmp_path: Path) -> None:
    client.post("/backups")
    [one] = backups(client)
    answer = client.get(f"/backups/files/{one['name']}")
    assert answer.content == (tmp_path / "backups" / one["name"]).read_bytes()
    (tmp_path / "backups" / "letter.db").write_bytes(b"somebody's letter")
    for name in (
        "letter.db",
        "..%2Fplaitlog.db",
        "%2e%2e%2fplaitlog.db",
        os.fspath(tmp_path / "plaitlog.db"),
    ):
        assert client.get(f"/backups/files/{name}").status_code == 404, name
    damaged = tmp_path / "backups" / one["name"]
    content = bytearray(damaged.read_bytes())
    content[4096 * 3 : 4096 * 20] = b"\xff" * (4096 * 17)
    damaged.write_bytes(bytes(content))
    assert client.get(f"/backups/restore/{one['name']}").status_code == 422
    assert client.get("/backups").status_code == 200
