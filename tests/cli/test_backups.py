"""``backup``, ``backups``, ``restore`` and ``doctor`` as a maker meets them."""

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.backups.contents import FIRST, FIRST_EXPORT
from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip


@pytest.fixture
def workshop(run: Run, file: Callable[..., str]) -> None:
    run("import", file(*text(RIDGE, FELL, whip())))


def test_a_backup_and_back_again(run: Run, workshop: None, file: Callable[..., str]) -> None:
    before = run("export").stdout
    made = run("backup")
    backup = Path(made.stdout.strip())
    assert "1 whips with 3 readings" in made.stderr
    run("import", file(*text(whip("later"))))
    grown = run("export").stdout
    done = run("restore", backup.name)  # as the list names it
    assert "Restored 1 whips with 3 readings" in done.stdout
    assert run("export").stdout == before
    kept = next(line for line in done.stderr.splitlines() if "before-restore" in line)
    run("restore", kept.split(" is in ")[1].split("; ")[0])
    assert run("export").stdout == grown


def test_the_list_says_what_each_backup_holds(run: Run, workshop: None, home: Path) -> None:
    assert "There is no backup yet" in run("backups").stderr
    run("backup")
    run("restore", str(FIRST))
    damaged = Path(json.loads(run("backup", "--json").stdout)["file"])
    damaged.write_bytes(damaged.read_bytes()[:90_000])
    listed = json.loads(run("backups", "--json").stdout)
    assert [one["why"] for one in listed] == ["asked", "before-restore", "asked"]
    assert [one["whips"] for one in listed] == [None, 1, 1]
    assert "damaged" in listed[0]["damage"]
    assert all(Path(one["file"]).parent == home / "backups" for one in listed)
    lines = run("backups").stdout.splitlines()
    assert len(lines) == 4
    assert "damaged" in lines[1]
    assert "before a restore" in lines[2]
    assert run("restore", damaged.name, code=2).stderr.count("is damaged") == 1


def test_a_backup_elsewhere(run: Run, workshop: None, tmp_path: Path) -> None:
    (tmp_path / "stick").mkdir()
    assert Path(run("backup", "--out", "stick").stdout.strip()).parent == Path("stick")
    assert run("backup", "--out", "stick/mine.db").stdout == "stick/mine.db\n"
    again = run("backup", "--out", "stick/mine.db", code=2)
    assert again.stderr == "plaitlog: stick/mine.db is there already; name another file, or a folder\n"
    assert json.loads(run("backups", "--json").stdout) == []


def test_a_backup_of_the_first_version_makes_a_missing_database(run: Run) -> None:
    done = run("restore", str(FIRST))
    assert done.stdout == f"Restored 6 whips with 25 readings from {FIRST}.\n"
    assert run("export").stdout == FIRST_EXPORT.read_text()


def test_a_wrong_file_is_refused_in_one_line(run: Run, workshop: None, file: Callable[..., str]) -> None:
    refused = run("restore", file("Dear Orrin", name="letter.txt"), code=2)
    assert "letter.txt is not a backup; name another file: plaitlog backups lists them" in refused.stderr
    assert len(refused.stderr.splitlines()) == 1


def test_the_doctor_finds_nothing_wrong_and_changes_nothing(run: Run, workshop: None, home: Path) -> None:
    run("fit", "--no-evidence")
    run("backup")
    before = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    found = json.loads(run("doctor", "--json").stdout)
    states = {check["name"]: check["state"] for check in found}
    assert set(states) == {
        *("database", "disk", "rights", "free-space", "settings", "integrity"),
        *("revision", "fit", "suspects", "backups", "leftovers"),
    }
    assert {name for name, state in states.items() if state == "trouble"} == set()
    assert {path: path.read_bytes() for path in home.rglob("*") if path.is_file()} == before
    assert [line.split()[0] for line in run("doctor").stdout.splitlines()] == [c["state"] for c in found]


def test_strict_turns_notes_into_an_exit_code(run: Run, workshop: None) -> None:
    assert "no fit is stored" in run("doctor").stdout
    run("doctor", "--strict", code=1)


def test_the_doctor_makes_no_database(run: Run, home: Path) -> None:
    assert "there is none yet" in run("doctor").stdout
    assert not home.exists()


def test_one_may_look_without_writing(run: Run, workshop: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert "trouble  rights: you may not write to" in run("doctor").stdout
