"""Files that are not restored, and places that cannot be written: said in words, and nothing is touched."""

import errno
import json
import os
import random
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import BackupError, DatabaseError, NewerDatabaseError
from plaitlog.service.backups.files import BackupPlace, backups_in, place_of
from plaitlog.service.backups.making import back_up, back_up_to
from plaitlog.service.backups.restoring import restore
from plaitlog.service.database import write
from plaitlog.service.usecases.importing import take_records
from tests.backups.contents import FIRST, content
from tests.usecases.examples import WORKSHOP


def altered(statement: str) -> Callable[[Path], None]:
    """The backup of the first revision with one thing changed in it."""

    def write_to(path: Path) -> None:
        path.write_bytes(FIRST.read_bytes())
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute(statement)

    return write_to


def foreign(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE recipes (id INTEGER)")


def emptied(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("CREATE TABLE recipes (id INTEGER)")
        connection.execute("DROP TABLE recipes")


def cut_off(path: Path) -> None:
    path.write_bytes(FIRST.read_bytes()[:100_000])


def overwritten(path: Path) -> None:
    damaged = bytearray(FIRST.read_bytes())
    damaged[40_960:81_920] = random.Random(1).randbytes(40_960)
    path.write_bytes(damaged)


REFUSED = {
    "missing": (lambda path: None, "is not there; check the path"),
    "folder": (lambda path: path.mkdir(), "cannot be read; check the path"),
    "empty": (lambda path: path.touch(), "is empty"),
    "text": (lambda path: path.write_text("Dear Orrin, " * 99), "is not a backup"),
    "only the first bytes": (lambda path: path.write_bytes(FIRST.read_bytes()[:100]), "is damaged"),
    "an empty database": (emptied, "holds no records"),
    "another program's": (foreign, r"is a database of another program \(recipes"),
    "cut off": (cut_off, "is damaged"),
    "overwritten": (overwritten, "is damaged"),
    "without its parents": (altered("DELETE FROM whips"), r"damaged \(rows of .* without their parent"),
    "without a revision": (altered("DELETE FROM alembic_version"), "holds no records"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_restored_is_refused_before_anything_is_touched(
    engine: Engine, empty_database: str, tmp_path: Path, case: str
) -> None:
    make, words = REFUSED[case]
    write(engine, lambda session: take_records(session, WORKSHOP))
    before = content(engine)
    file = tmp_path / "given" / "file.db"
    file.parent.mkdir()
    make(file)
    found = file.read_bytes() if file.is_file() else None
    with pytest.raises(BackupError, match=words) as refused:
        restore(empty_database, file)
    assert str(file) in str(refused.value)
    assert "nothing was changed" in str(refused.value)
    assert content(engine) == before
    assert (file.read_bytes() if file.is_file() else None) == found
    assert len(list(file.parent.iterdir())) <= 1
    place = place_of(engine.url)
    assert place is not None
    assert backups_in(place) == []


def test_a_newer_backup_is_refused(engine: Engine, empty_database: str, tmp_path: Path) -> None:
    file = tmp_path / "newer.db"
    altered("UPDATE alembic_version SET version_num = 'of_2031'")(file)
    with pytest.raises(NewerDatabaseError, match=r"newer version \(revision of_2031.*update the program"):
        restore(empty_database, file)


def test_the_database_itself_is_refused(sqlite_engine: Engine, tmp_path: Path) -> None:
    link = tmp_path / "link.db"
    link.symlink_to(tmp_path / "plaitlog.db")
    for file in (tmp_path / "plaitlog.db", link):
        with pytest.raises(BackupError, match="is the database itself"):
            restore(str(tmp_path / "plaitlog.db"), file)


def test_another_programs_database_is_not_restored_into(tmp_path: Path) -> None:
    file = tmp_path / "recipes.db"
    foreign(file)
    before = file.read_bytes()
    with pytest.raises(DatabaseError, match="tables of another program"):
        restore(str(file), FIRST)
    letter = tmp_path / "letter.db"
    letter.write_text("Dear Orrin, " * 99)
    with pytest.raises(DatabaseError, match="is not a database"):
        restore(str(letter), FIRST)
    assert letter.read_text().startswith("Dear")
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("SELECT name FROM sqlite_schema").fetchall() == [("recipes",)]
    assert len(file.read_bytes()) == len(before)


def test_a_damaged_database_is_moved_aside_and_replaced(tmp_path: Path) -> None:
    file = tmp_path / "plaitlog.db"
    overwritten(file)
    damaged = file.read_bytes()
    done = restore(str(file), FIRST)
    assert done.before is None
    assert done.set_aside is not None
    assert done.set_aside.parent == tmp_path / "backups"
    assert done.set_aside.read_bytes() == damaged
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("SELECT count(*) FROM whips").fetchone() == (6,)


# What of the system can fail while a backup is written


def test_a_file_that_is_there_is_not_overwritten(sqlite_engine: Engine, tmp_path: Path) -> None:
    place = place_of(sqlite_engine.url)
    assert place is not None
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear Orrin")
    with pytest.raises(BackupError, match=r"letter\.txt is there already; name another file"):
        back_up_to(sqlite_engine, place, letter)
    assert letter.read_text() == "Dear Orrin"
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_a_file_in_place_of_the_folder_is_named(sqlite_engine: Engine, tmp_path: Path) -> None:
    (tmp_path / "backups").touch()
    place = place_of(sqlite_engine.url)
    assert place is not None
    with pytest.raises(BackupError, match=r"written to .*backups: File exists; check folder and room"):
        back_up(sqlite_engine, place, "asked")


@pytest.mark.parametrize(
    ("code", "words"), [(errno.EROFS, "Read-only file system"), (errno.ENOSPC, "no room for it")]
)
@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_a_failure_at_the_last_step_leaves_no_file(
    sqlite_engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, code: int, words: str
) -> None:
    def fail(*arguments: object) -> None:
        raise OSError(code, os.strerror(code))

    place = BackupPlace(tmp_path / "kept", "workshop")
    monkeypatch.setattr(os, call, fail)
    with pytest.raises(BackupError, match=words):
        back_up(sqlite_engine, place, "asked")
    assert list(place.folder.iterdir()) == []


LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, 2 * (int(sys.argv[1]),))
from plaitlog.service.cli.main import app
app(sys.argv[2:])
"""


@pytest.mark.parametrize(
    ("command", "limit"),
    [
        (["backup"], 20_000),
        (["backup"], 150_000),
        (["backup", "--out", "stick"], 150_000),
        (["restore", str(FIRST)], 20_000),
        (["restore", str(FIRST)], 250_000),
    ],
)
def test_no_room_on_the_disk(sqlite_engine: Engine, tmp_path: Path, command: list[str], limit: int) -> None:
    """No file of the process may grow beyond the limit, as if the disk were full."""
    write(sqlite_engine, lambda session: take_records(session, WORKSHOP))
    before = content(sqlite_engine)
    sqlite_engine.dispose()
    database = tmp_path / "plaitlog.db"
    (tmp_path / "stick").mkdir()
    program = [sys.executable, "-c", LIMITED, str(limit), "--database", str(database), *command]
    done = subprocess.run(program, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stderr
    assert "room" in done.stderr
    assert "Traceback" not in done.stderr
    assert content(sqlite_engine) == before
    there = [path.name for folder in ("stick", "backups") for path in _files(tmp_path / folder)]
    assert there == []
    after = subprocess.run(
        [sys.executable, "-c", LIMITED, str(10**9), "--database", str(database), "backup", "--json"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(after.stdout)["whips"] == 2


def _files(folder: Path) -> list[Path]:
    return list(folder.iterdir()) if folder.exists() else []
