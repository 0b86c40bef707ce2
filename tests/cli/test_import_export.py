"""``import``, ``export``, ``show`` at the command line: bad input refused, nothing half written."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip

READING = {"at_mm": 100, "diameter_mm": 17.5}


def one_layer(**keys: Any) -> list[dict[str, Any]]:
    return [{"role": "overlay", "cord": "Fell 3 mm", "strands": [[0, 16]], **keys}]


REFUSED = [
    (whip(readings=[{**READING, "diameter_mm": float("nan")}]), "line 3", "NaN"),
    (whip(readings=[{**READING, "diameter_mm": float("inf")}]), "line 3", "Infinity"),
    (whip(readings=[{**READING, "diameter_mm": -4.0}]), "line 3", "-4.0 is not a size"),
    (whip(readings=[{**READING, "diameter_mm": 0}]), "line 3", "0 is not a size"),
    (whip(readings=[{**READING, "diameter_mm": 201}]), "line 3", "201"),
    (whip(readings=[{"at_mm": 1801, "diameter_mm": 9}]), "line 3", "past the point"),
    (whip(readings=[{**READING, "at_mm": 800, "after_layer": 1}]), "line 3", "does not run at 800 mm"),
    (whip(readings=[{"at_mm": 100, "diameter": "17.5"}]), "line 3", "no unit in '17.5'"),
    (whip(layers=one_layer(strands=[[0, 16], [900, 12], [800, 8]])), "line 3", "800"),
    (whip(layers=one_layer(strands=[[0, -16]])), "line 3", "-16"),
    (whip(layers=one_layer(strands=[[1900, 16]])), "line 3", "past the point"),
    (whip(layers=one_layer(cord="Fel 3 mm")), "line 3", "did you mean 'Fell 3 mm'?"),
    (whip(ratings={"ease": 11}), "line 3", "11 is not a rating"),
    (whip(made_on="2999-01-01"), "line 3", "in the future"),
    (whip(lable="x"), "line 3", "did you mean 'label'?"),
    (whip(thong_length_mm="1800"), "line 3", "is text"),
]


@pytest.mark.parametrize(("record", "where", "what"), REFUSED)
def test_what_cannot_be_taken_is_refused_with_its_line_and_nothing_is_written(
    run: Run, file: Callable[..., str], record: dict[str, Any], where: str, what: str
) -> None:
    refused = run("import", file(*text(RIDGE, FELL, record)), code=2)
    assert where in refused.stderr
    assert what in refused.stderr
    assert refused.stdout == ""
    assert run("export").stdout == ""


@pytest.mark.parametrize(
    ("lines", "where", "what"),
    [
        (['{"kind":"maker","name":"Orr'], "line 1", "complete it"),
        ([b'{"kind":"maker","name":"\xe9"}'], "line 1", "save the file as UTF-8"),
        ([*text(RIDGE, FELL, whip()), *text(whip())], "line 4", "stands on line 3 already"),
        (["[1, 2]"], "line 1", "write an object"),
        (['{"kind":"belt"}'], "line 1", "is not a kind of record"),
        (['{"kind":"maker","name":"' + "x" * 1_000_001 + '"}'], "line 1", "longer than"),
    ],
)
def test_broken_files_are_refused(
    run: Run, file: Callable[..., str], lines: list[str | bytes], where: str, what: str
) -> None:
    refused = run("import", file(*lines), code=2)
    assert where in refused.stderr
    assert what in refused.stderr
    assert run("export").stdout == ""


@pytest.mark.parametrize(
    ("record", "code"),
    [
        (whip(layers=one_layer(strands=[[0, 15]])), "odd-count"),
        (whip(layers=one_layer(strands=[[0, 12], [500, 14]])), "rising-count"),
        (whip(layers=one_layer(pattern="u3o3")), "pattern-sum"),
    ],
)
def test_what_a_hand_would_not_do_is_taken_with_a_finding(
    run: Run, file: Callable[..., str], record: dict[str, Any], code: str
) -> None:
    name = file(*text(RIDGE, FELL, record))
    report = json.loads(run("import", name, "--json").stdout)
    found = [finding["code"] for row in report["rows"] for finding in row["findings"]]
    assert report["written"]
    assert code in found
    assert "2026-014" in run("whips").stdout


def test_strict_tells_findings_by_the_exit_code_and_imports_all_the_same(
    run: Run, file: Callable[..., str]
) -> None:
    name = file(*text(RIDGE, FELL, whip(layers=one_layer(strands=[[0, 15]]))))
    run("import", name, "--strict", code=1)
    assert "2026-014" in run("whips").stdout


def test_a_dry_run_says_what_each_row_would_do_and_writes_nothing(run: Run, file: Callable[..., str]) -> None:
    bad = whip("2026-015", ratings={"ease": 11})
    told = run("import", file(*text(RIDGE, FELL, whip(), bad)), "--dry-run")
    assert "line 1: cord Ridge 4 mm: would add" in told.stdout
    assert "line 3, implied: maker Orrin: would add" in told.stdout
    assert "line 4: whip 2026-015: rejected" in told.stdout
    assert run("whips").stdout == ""


def test_importing_twice_changes_nothing_and_an_edit_is_an_update(run: Run, file: Callable[..., str]) -> None:
    name = file(*text(RIDGE, FELL, whip()))
    run("import", name)
    before = run("export").stdout
    again = json.loads(run("import", name, "--json").stdout)
    assert again["counts"] == {"add": 0, "update": 0, "there already": 3, "rejected": 0}
    assert run("export").stdout == before
    edited = run("import", file(*text(whip(hours=9)), name="edited.jsonl"))
    assert "updated (changed: hours)" in edited.stdout


def test_an_export_imported_elsewhere_is_exported_byte_for_byte(
    run: Run, file: Callable[..., str], tmp_path: Path
) -> None:
    run("import", file(*text(RIDGE, FELL, whip())))
    run("export", "--out", "first.jsonl")
    run("import", "first.jsonl", "--database", str(tmp_path / "other.db"))
    second = run("--database", str(tmp_path / "other.db"), "export")
    assert (tmp_path / "first.jsonl").read_bytes() == second.stdout_bytes


def test_records_come_from_standard_input(run: Run) -> None:
    run("import", "-", typed="\n".join(text(RIDGE)))
    assert "Ridge 4 mm" in run("cords").stdout


def test_a_missing_file_or_label_is_told_with_the_nearest_name(run: Run, file: Callable[..., str]) -> None:
    assert "cannot be read" in run("import", "nosuch.jsonl", code=2).stderr
    run("import", file(*text(RIDGE, FELL, whip())))
    assert "did you mean '2026-014'?" in run("show", "2026-04", code=2).stderr


def test_show_says_layers_in_notation_and_words_readings_and_what_is_missing(
    run: Run, file: Callable[..., str]
) -> None:
    run("import", file(*text(RIDGE, FELL, whip())))
    shown = run("show", "2026-014").stdout
    assert "1 core: mm: 6; 700: end" in shown
    assert "16 strands of Fell 3 mm" in shown
    assert "Readings beside what is expected (no fit is stored" in shown
    assert "the weight" in shown.split("usable for: fit 3 of 3 readings")[1]
    as_json = json.loads(run("show", "2026-014", "--json").stdout)
    assert as_json["label"] == "2026-014"
    assert [line["measured_mm"] for line in as_json["review"]["readings"]] == [17.5, 17.0, 9.5]


def test_a_newer_database_is_refused_and_left_alone(run: Run, tmp_path: Path) -> None:
    import sqlite3
    from contextlib import closing

    file = tmp_path / "newer.db"
    run("--database", str(file), "whips")
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'ffff'")
        connection.commit()
    refused = run("--database", str(file), "whips", code=2)
    assert "newer version" in refused.stderr
    assert "update the program" in refused.stderr


def test_a_file_that_is_no_database_is_refused(run: Run, tmp_path: Path) -> None:
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8 not a database at all " * 100)
    refused = run("--database", str(tmp_path / "photo.jpg"), "whips", code=2)
    assert "is not a database" in refused.stderr
    assert (tmp_path / "photo.jpg").read_bytes().startswith(b"\xff\xd8")
