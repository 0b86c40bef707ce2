"""A backup made while somebody writes holds one committed state, and restores to it, on both databases."""

import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import Engine

from plaitlog.service.backups.files import BackupPlace, backups_in
from plaitlog.service.backups.making import back_up
from plaitlog.service.backups.restoring import restore
from plaitlog.service.database import open_engine, write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from tests.backups.contents import Content, content, digest
from tests.usecases.examples import WORKSHOP

WRITER = """
import itertools, sys
from plaitlog.service.database import open_engine, write
from plaitlog.service.usecases.importing import take_records

engine = open_engine(sys.argv[1])
for n in itertools.count():
    readings = [{"at_mm": 10 * k, "diameter_mm": 20 - k / 2} for k in range(5)]
    layers = [{"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16], [900, 12]]}]
    record = {"kind": "whip", "label": f"w{n}", "layers": layers, "readings": readings}
    write(engine, lambda session: take_records(session, [record]))
    print(n + 1, flush=True)
"""
PER_WHIP = {
    "whips": 1,
    "readings": 5,
    "layers": 1,
    "layer_cords": 1,
    "steps": 2,
    "step_counts": 2,
    "history": 1,
    "history_entries": 1,
}


@pytest.fixture
def place(tmp_path: Path) -> BackupPlace:
    return BackupPlace(tmp_path / "kept", "workshop")


def states(finally_there: Content, base: dict[str, int], whips: int) -> Content:
    """The state after ``whips`` transactions of the writer, cut out of the last state: it only adds."""
    return {
        table: rows[: base[table] + whips * PER_WHIP[table]] if table in PER_WHIP else rows
        for table, rows in finally_there.items()
    }


def test_a_backup_under_load_is_one_committed_state(
    empty_database: str, place: BackupPlace, tmp_path: Path
) -> None:
    engine, _ = ready_engine(empty_database)
    write(engine, lambda session: take_records(session, WORKSHOP))
    base = {table: len(rows) for table, rows in content(engine).items()}
    acknowledged, seen = [], []
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, empty_database], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        for _ in range(3):
            acknowledged.append(int(writer.stdout.readline()))
            seen.append(back_up(engine, place, "asked"))
            time.sleep(0.05)
        writer.kill()
        last = [int(line) for line in writer.stdout.read().splitlines()]
    assert last, "the writer stood still meanwhile"
    final = content(engine)
    for known, backup in zip(acknowledged, seen, strict=True):
        target = str(tmp_path / f"empty folder {known}" / "plaitlog.db")
        restore(target, backup.file)
        restored = open_engine(target)
        found = content(restored)
        restored.dispose()
        whips = len(found["whips"]) - base["whips"]
        assert known <= whips <= len(final["whips"]) - base["whips"]
        assert found == states(final, base, whips)
        assert digest(found) == digest(states(final, base, whips))
    # Back where it came from as well: what is there meanwhile goes into a backup of its own.
    restored_in_place = restore(empty_database, seen[0].file)
    assert restored_in_place.before is not None
    assert digest(content(engine)) == digest(_content_of(seen[0].file, tmp_path))
    restore(empty_database, restored_in_place.before.file)
    assert digest(content(engine)) == digest(final)
    engine.dispose()


def _content_of(file: Path, folder: Path) -> Content:
    target = str(folder / "beside" / "plaitlog.db")
    restore(target, file)
    engine = open_engine(target)
    found = content(engine)
    engine.dispose()
    return found


def test_new_rows_get_new_keys_after_a_restore(
    engine: Engine, empty_database: str, place: BackupPlace
) -> None:
    """Keys that were given before the restore are not given again: who still holds one must not err."""
    write(engine, lambda session: take_records(session, WORKSHOP))
    backup = back_up(engine, place, "asked")
    whip = {"kind": "whip", "label": "later", "readings": [{"at_mm": 10, "diameter_mm": 20}]}
    write(engine, lambda session: take_records(session, [whip]))
    before = content(engine)
    restore(empty_database, backup.file)
    write(engine, lambda session: take_records(session, [{**whip, "label": "later still"}]))
    after = content(engine)
    for table in ("whips", "readings", "history"):
        assert after[table][:-1] == before[table][:-1]
        assert int(after[table][-1].strip("[").split(",")[0]) > len(before[table])
    assert len(backups_in(place)) == 1
