"""A restore that is killed leaves the old records or the new ones, and never disturbs who looks meanwhile."""

import subprocess
import sys
import time
from pathlib import Path

from sqlalchemy import Engine

from plaitlog.service.backups.files import BackupPlace, backups_in, place_of
from plaitlog.service.backups.making import back_up
from plaitlog.service.backups.restoring import restore
from plaitlog.service.database import reading, write
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.workshop import whips_in_brief
from tests.backups.contents import content, digest
from tests.crash.length import LONG
from tests.crash.soundness import assert_sound

READINGS = 10
WHIPS = {"old": 250, "new": 200}
TRIES = 40 if LONG else 3
PROGRAM = """
import sys
from pathlib import Path
from plaitlog.service.backups.restoring import restore
print("begun", flush=True)
restore(sys.argv[1], Path(sys.argv[2]))
print("done", flush=True)
"""


def fill(engine: Engine, name: str) -> None:
    rows = [{"at_mm": 10 * n, "diameter_mm": 20 - n / 2} for n in range(READINGS)]
    layers = [{"role": "overlay", "strands": [[0, 16], [900, 12]]}]
    whips = [
        {"kind": "whip", "label": f"{name} {n}", "layers": layers, "readings": rows}
        for n in range(WHIPS[name])
    ]
    write(engine, lambda session: take_records(session, whips))


def test_the_old_records_or_the_new_ones(empty_database: str, tmp_path: Path) -> None:
    other, _ = ready_engine(str(tmp_path / "other" / "plaitlog.db"))
    fill(other, "new")
    backup = back_up(other, BackupPlace(tmp_path / "given", "workshop"), "asked").file
    new = digest(content(other))
    other.dispose()
    engine, _ = ready_engine(empty_database)
    fill(engine, "old")
    old = digest(content(engine))
    own = place_of(engine.url)
    assert own is not None
    lasts_s = restored_in_s(empty_database, backup)
    assert digest(content(engine)) == new
    former = next(backup.file for backup in backups_in(own) if backup.why == "before-restore")
    seen = set()
    for attempt in range(TRIES):
        restore(empty_database, former)
        assert digest(content(engine)) == old
        state = killed_after(empty_database, backup, lasts_s * (attempt + 0.5) / TRIES, engine)
        found = digest(content(engine))
        assert found in {old, new}
        assert state != "done" or found == new
        assert_sound(engine, READINGS)
        seen.add(found)
    assert old in seen
    engine.dispose()


def restored_in_s(database: str, backup: Path) -> float:
    program = [sys.executable, "-c", PROGRAM, database, str(backup)]
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "begun\n"
        began = time.monotonic()
        assert child.stdout.readline() == "done\n"
        return time.monotonic() - began


def killed_after(database: str, backup: Path, delay_s: float, engine: Engine) -> str:
    """Kill a restore; meanwhile somebody looks, and sees all the old whips or all the new ones."""
    program = [sys.executable, "-c", PROGRAM, database, str(backup)]
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "begun\n"
        deadline = time.monotonic() + delay_s
        while time.monotonic() < deadline:
            with reading(engine) as session:
                assert len(whips_in_brief(session)) in set(WHIPS.values())
            time.sleep(0.01)
        child.kill()
        return child.stdout.read().strip()
