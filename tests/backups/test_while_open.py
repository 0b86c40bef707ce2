"""A restore while others have the database open: they see one state or the other, and lose nothing."""

import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.service.backups import restoring
from plaitlog.service.backups.damaged import is_damaged, set_aside_if_damaged
from plaitlog.service.backups.files import Backup, BackupPlace, Why, place_of
from plaitlog.service.backups.making import back_up
from plaitlog.service.backups.restoring import restore
from plaitlog.service.database import open_engine, reading, write
from plaitlog.service.doctor.examining import examine
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.workshop import whip, whips_in_brief
from tests.backups.contents import FIRST, content_of_file

RIDGE = {"kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored"}
FELL = {"kind": "cord", "name": "Fell 3 mm", "material": "polyester", "construction": "gutted"}
MEANWHILE = {
    "kind": "whip",
    "label": "meanwhile",
    "layers": [{"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16]]}],
}


def labels(engine: Engine) -> set[str]:
    with reading(engine) as session:
        return {brief.label for brief in whips_in_brief(session)}


def test_who_looks_sees_one_state_and_then_the_other(engine: Engine, empty_database: str) -> None:
    write(engine, lambda session: take_records(session, [RIDGE, MEANWHILE]))
    with reading(engine) as session:
        assert whip(session, "meanwhile").label == "meanwhile"
        restore(empty_database, FIRST)
        assert whip(session, "meanwhile").layers[0].cords[0].cord == "Ridge 4 mm"
    assert "meanwhile" not in labels(engine)
    assert "2026-014" in labels(engine)


def test_who_writes_meanwhile_waits_and_nothing_falls_between(
    engine: Engine, empty_database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whip is written after the restore, with the cords that are there then, or is in the backup."""
    place = place_of(engine.url)
    assert place is not None
    write(engine, lambda session: take_records(session, [RIDGE]))
    other = open_engine(empty_database)
    writer = threading.Thread(
        target=write, args=(other, lambda session: take_records(session, [RIDGE, MEANWHILE]))
    )

    def slowly(engine: Engine, place: BackupPlace, why: Why, *, spare: Path) -> Backup:
        writer.start()
        time.sleep(0.3)
        assert writer.is_alive(), "a writer got between the backup and the restore"
        return back_up(engine, place, why, spare=spare)

    monkeypatch.setattr(restoring, "back_up", slowly)
    done = restore(empty_database, FIRST)
    writer.join()
    other.dispose()
    assert "meanwhile" in labels(engine)
    assert done.before is not None
    assert content_of_file(done.before.file)["whips"] == []
    with reading(engine) as session:
        assert whip(session, "meanwhile").layers[0].cords[0].cord == "Ridge 4 mm"


def test_looking_at_a_database_lets_go_of_no_lock(sqlite_engine: Engine, tmp_path: Path) -> None:
    """Or else another process would take itself for the last one, and clear the log under our feet."""
    file, log = tmp_path / "plaitlog.db", tmp_path / "plaitlog.db-wal"
    place = place_of(sqlite_engine.url)
    assert place is not None
    with reading(sqlite_engine) as session:
        whips_in_brief(session)
        assert not is_damaged(file)
        set_aside_if_damaged(sqlite_engine.url, place)
        assert [check.state for check in examine(str(file)) if check.name == "integrity"] == ["ok"]
        back_up(sqlite_engine, place, "asked")
        other = f"import sqlite3; sqlite3.connect({str(file)!r}).execute('SELECT * FROM whips').close()"
        subprocess.run([sys.executable, "-c", other], check=True)
        assert log.exists()


@pytest.mark.postgresql
def test_what_a_writer_looked_up_before_is_looked_up_again(postgresql_url: str, tmp_path: Path) -> None:
    """Ridge had key 1 when the writer looked; after the restore that is the key of another cord."""
    source, _ = ready_engine(str(tmp_path / "other.db"))
    write(source, lambda session: take_records(session, [FELL, RIDGE]))
    backup = back_up(source, BackupPlace(tmp_path, "other"), "asked").file
    source.dispose()
    engine, _ = ready_engine(postgresql_url)
    write(engine, lambda session: take_records(session, [RIDGE]))
    runs = []

    def look_and_write(session: Session) -> None:
        whips_in_brief(session)
        take_records(session, [RIDGE], dry_run=True)
        runs.append(1)
        if len(runs) == 1:
            restorer = threading.Thread(target=restore, args=(postgresql_url, backup))
            restorer.start()
            restorer.join()
        take_records(session, [MEANWHILE])

    write(engine, look_and_write)
    assert len(runs) == 2
    with reading(engine) as session:
        assert whip(session, "meanwhile").layers[0].cords[0].cord == "Ridge 4 mm"
    engine.dispose()
