"""``plaitlog photos``: listed, added several at once, written under, removed, refused in plain words."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip
from tests.usecases.pictures_taken import from_a_telephone


@pytest.fixture
def workshop(run: Run, file: Callable[..., str]) -> Run:
    run("import", file(*text(RIDGE, FELL, whip(), whip("2026-015"))))
    return run


@pytest.fixture
def taken(tmp_path: Path) -> list[str]:
    files = []
    for turn in (1, 6):
        path = tmp_path / f"{turn}.jpg"
        path.write_bytes(from_a_telephone(turn, width=96, height=64))
        files.append(str(path))
    return files


def test_photos_are_added_listed_written_under_and_removed(workshop: Run, taken: list[str]) -> None:
    assert "No photo of 2026-014 yet" in workshop("photos", "2026-014").stderr
    added = workshop("photos", "2026-014", "--add", taken[0], "--add", taken[1], "--caption", "the tip")
    assert "added 2 photos of 2026-014, change 2; 'plaitlog undo 2' takes it back" in added.stdout
    again = workshop("photos", "2026-014", "--add", taken[0])
    assert again.stdout == "1 there already: not added again\n"
    workshop("photos", "2026-014", "--under", "2", "--caption", "the heel knot")
    assert workshop("photos", "2026-014").stdout.splitlines() == [
        "number   pixels  caption",
        "     1  96 x 64  the tip",
        "     2  64 x 96  the heel knot",
    ]
    workshop("photos", "2026-014", "--remove", "1")
    listed = json.loads(workshop("photos", "2026-014", "--json").stdout)
    assert [(one["number"], one["caption"]) for one in listed] == [(2, "the heel knot")]
    workshop("undo")
    assert len(json.loads(workshop("photos", "2026-014", "--json").stdout)) == 2


def test_what_cannot_be_taken_keeps_all_out_and_is_told(
    workshop: Run, taken: list[str], tmp_path: Path
) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text("not a picture")
    refused = workshop("photos", "2026-014", "--add", taken[0], "--add", str(notes), code=2)
    assert "notes.txt: it is no picture that can be read; send a JPEG, PNG or WebP" in refused.stderr
    gone = workshop("photos", "2026-014", "--add", str(tmp_path / "gone.jpg"), code=2)
    assert "cannot be read" in gone.stderr
    assert json.loads(workshop("photos", "2026-014", "--json").stdout) == []


def test_numbers_and_options_that_do_not_go_together_are_refused(workshop: Run, taken: list[str]) -> None:
    workshop("photos", "2026-014", "--add", taken[0])
    for arguments, said in [
        (("2026-01",), "2026-01"),
        (("2026-01", "--add", taken[0]), "did you mean"),
        (("2026-015", "--remove", "1"), "photo 1 is of '2026-014', not of '2026-015'"),
        (("2026-015", "--under", "1", "--caption", "x"), "photo 1 is of '2026-014'"),
        (("2026-014", "--remove", "9"), "no photo number 9"),
        (("2026-014", "--remove", "1", "--add", taken[1]), "do one thing at a time"),
        (("2026-014", "--under", "1"), "add --caption TEXT"),
        (("2026-014", "--caption", "x"), "add --add FILE"),
        (("2026-014", "--add", taken[1], "--caption", "x" * 501), "at most 500"),
    ]:
        assert said in workshop("photos", *arguments, code=2).stderr
    assert len(json.loads(workshop("photos", "2026-014", "--json").stdout)) == 1
