"""An import so large that a job does it: tried out beside the work of others, taken in as it was shown."""

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from plaitlog.models.errors import UndoError
from plaitlog.service import staged_imports
from plaitlog.service.database import reading, write
from plaitlog.service.staged_imports import PURPOSE, report_of, say
from plaitlog.service.staged_uploads import Staged, stage
from plaitlog.service.usecases.asked_imports import Asked
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.jobs import ask_for, finish, keep_result, take_up
from plaitlog.service.usecases.workshop import whips_in_brief
from plaitlog.service.work.import_ import work
from tests.api.server import serving
from tests.pages.import_forms import chosen, sent, shown

TABLE = b"Label,Maker,D0 in,D12\nB1,Orrin,20.5,17\nB2,Tamsin,19.5,1x6\n"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))


@pytest.fixture
def kept() -> Staged:
    found = stage(io.BytesIO(TABLE), "book.csv", PURPOSE)
    say(found, Asked())
    return found


def labels(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return sorted(brief.label for brief in whips_in_brief(session))


def tried(engine: Engine, kept: Staged) -> Mapping[str, Any]:
    """Try the file out while somebody else writes whenever something is told."""
    told: list[float] = []

    def tell(words: str, share: float) -> None:
        label = f"beside {len(told)}"
        write(engine, lambda session: take_records(session, [{"kind": "whip", "label": label}]))
        told.append(share)

    done = work(engine, {"token": kept.token, "take": False}, tell)
    assert told == sorted(told)
    assert len(told) > 1
    return write(engine, done)


def quiet(words: str, share: float) -> None: ...


def test_rows_are_tried_out_while_others_write(engine: Engine, kept: Staged) -> None:
    assert tried(engine, kept)["address"] == f"/import/{kept.token}"
    found = report_of(kept)
    assert found is not None
    assert found["report"]["counts"] == {"add": 1, "update": 0, "there_already": 0, "rejected": 1}
    assert all(label.startswith("beside") for label in labels(engine)), "nothing was taken in by trying"


def test_what_was_shown_is_taken_in_and_nothing_else(engine: Engine, kept: Staged) -> None:
    tried(engine, kept)
    taking = work(engine, {"token": kept.token, "take": True}, quiet)
    with pytest.raises(UndoError):  # others have written since
        write(engine, taking)
    assert "B1" not in labels(engine)
    write(engine, work(engine, {"token": kept.token, "take": False}, quiet))
    result = write(engine, work(engine, {"token": kept.token, "take": True}, quiet))
    assert "B1" in labels(engine)
    assert "B2" not in labels(engine)
    assert result["address"] == f"/import/{kept.token}/done?change={result['change']}"


def test_a_page_leaves_a_large_file_to_a_job_and_leads_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(staged_imports, "LONG_BYTES", 10)
    with serving(str(tmp_path / "plaitlog.db")) as client:
        at_once(client, monkeypatch)
        job = chosen(client, "book.csv", TABLE.replace(b"1x6", b"16"))
        address = client.get(job, params={"as": "json"}).json()["job"]["address"]
        assert shown(client, address)["report"]["counts"]["add"] == 2
        assert sent(client, address, take="yes").startswith("/jobs/")
        done = client.get(f"{address}/done", follow_redirects=False)
        assert done.headers["location"] == "/import?change=1"
        assert labels(client.app.state.engine) == ["B1", "B2"]  # type: ignore[attr-defined]
        assert client.get(address).status_code == 404
        assert client.get(f"{address}/done?change=1").url.path == "/import", "the job still leads somewhere"


def at_once(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Do what a job is asked for on the spot, by the steps of its process."""
    engine = client.app.state.engine  # type: ignore[attr-defined]

    def start(kind: str, asked: Mapping[str, Any]) -> int:
        number, _ = write(engine, lambda session: ask_for(session, kind, asked))
        write(engine, lambda session: take_up(session, number))
        done = work(engine, asked, quiet)

        def keep(session: Any) -> None:
            finish(session, number)
            keep_result(session, number, done(session))

        write(engine, keep)
        return number

    monkeypatch.setattr(client.app.state.jobs, "start", start)  # type: ignore[attr-defined]
