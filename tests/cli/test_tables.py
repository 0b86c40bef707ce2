"""``import`` and ``export`` of tables at the command line."""

import json
from pathlib import Path

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip
from tests.spreadsheets.makers_files import notebook, office_export


def test_a_notebook_is_told_by_its_content_and_its_reading_is_said(run: Run, tmp_path: Path) -> None:
    (tmp_path / "whips.csv").write_bytes(notebook())  # an xlsx file under another name
    told = run("import", "whips.csv")
    assert "row 4 of sheet 'Whips': whip 2019-001: added" in told.stdout
    assert "added 5, updated 0, there already 0, rejected 0; new readings: 14" in told.stdout
    assert "sheet 'Whips' was read as whips: 'No.' = label" in told.stderr
    again = json.loads(run("import", "whips.csv", "--json").stdout)
    assert again["counts"] == {"add": 0, "update": 0, "there already": 5, "rejected": 0}
    assert {row["sheet"] for row in again["rows"]} == {"Whips", "Cords"}


def test_units_and_maps_are_asked_for_by_name_and_remembered(run: Run, tmp_path: Path, home: Path) -> None:
    (tmp_path / "book.csv").write_text("Label,D0,D12,D24,Mood\nW,20.5,17,14,good\n")
    refused = run("import", "book.csv", code=2)
    assert '--map "Mood=-"' in refused.stderr
    refused = run("import", "book.csv", "--map", "Mood=-", code=2)
    assert '--units "station=in"' in refused.stderr
    run("import", "book.csv", "--map", "Mood=-", "--units", "station=in,reading=mm", "--dry-run")
    assert "W" not in run("whips").stdout
    assert (home / "tables.json").exists()
    run("import", "book.csv")
    assert "304.8" in run("export").stdout
    assert "write it like" in run("import", "book.csv", "--map", "Mood", code=2).stderr
    assert "'furlong' is no unit" in run("import", "book.csv", "--units", "station=furlong", code=2).stderr


def test_sound_rows_are_taken_and_the_others_wait_in_a_file(run: Run, tmp_path: Path) -> None:
    content = office_export("cp1252").replace(b"398", b"none at all")
    (tmp_path / "export.csv").write_bytes(content)
    assert "line 3, column 'weight (g)': 'none at all'" in run("import", "export.csv", code=2).stderr
    assert not (tmp_path / "export.rejected.csv").exists()
    assert "goes with --partial" in run("import", "export.csv", "--rejected", "x.csv", code=2).stderr
    told = run("import", "export.csv", "--partial")
    assert "added 1, updated 0, there already 0, rejected 1" in told.stdout
    assert "export.rejected.csv: mend them there" in told.stderr
    left = (tmp_path / "export.rejected.csv").read_bytes()
    (tmp_path / "export.rejected.csv").write_bytes(left.replace(b"none at all;", b"398;"))
    mended = (tmp_path / "export.rejected.csv").read_bytes()
    assert "export.rejected-2.csv: mend them there" in run("import", "export.csv", "--partial").stderr
    assert (tmp_path / "export.rejected.csv").read_bytes() == mended, "what was mended by hand stays"
    run("import", "export.rejected.csv", "--partial", "--rejected", "rest.csv", "--strict")
    assert not (tmp_path / "rest.csv").exists()
    assert "K-2" in run("whips").stdout


def test_the_workshop_goes_out_in_every_form_and_comes_back(run: Run, tmp_path: Path) -> None:
    (tmp_path / "records.jsonl").write_text("\n".join(text(RIDGE, FELL, whip())))
    run("import", "records.jsonl")
    lines = run("export").stdout
    run("export", "--format", "xlsx", "--out", "all.xlsx")
    assert run("export", "--format", "xlsx").stdout_bytes == (tmp_path / "all.xlsx").read_bytes()
    listed = run("export", "--format", "csv", "--out", "tables").stderr
    names = [line.split("/")[-1] for line in listed.splitlines()]
    assert names[3:5] == ["whips.csv", "layers.csv"]
    one = run("export", "--format", "csv", "--table", "readings").stdout_bytes
    assert one == (tmp_path / "tables" / "readings.csv").read_bytes()
    run("import", "all.xlsx", "--database", "by-xlsx.db")
    assert run("export", "--database", "by-xlsx.db").stdout == lines
    for name in names:
        run("import", f"tables/{name}", "--database", "by-csv.db")
    assert run("export", "--database", "by-csv.db").stdout == lines
    assert "goes with --format csv" in run("export", "--table", "whips", code=2).stderr
    assert "name a folder" in run("export", "--format", "csv", code=2).stderr
    assert "did you mean 'readings'?" in run(
        "export", "--format", "csv", "--table", "redings", code=2
    ).stderr.replace('"', "'")


def test_a_notebook_goes_out_and_says_what_it_cannot_hold(run: Run, tmp_path: Path) -> None:
    (tmp_path / "export.csv").write_bytes(office_export("cp1252"))
    run("import", "export.csv")
    more = {"kind": "reading", "whip": "K-2", "at_mm": 100, "girth_mm": 50}
    (tmp_path / "girth.jsonl").write_text(json.dumps(more), encoding="utf-8")
    run("import", "girth.jsonl")
    told = run("export", "--format", "csv", "--table", "notebook", "--out", "notebook.csv")
    assert "1 reading has no place in it" in told.stderr
    again = json.loads(run("import", "notebook.csv", "--json").stdout)["counts"]
    assert again["there already"] == sum(again.values()) > 0


def test_a_table_comes_from_standard_input(run: Run) -> None:
    run("import", "-", "--partial", typed="Label,Hours\nW,8\n,9\n")
    assert "W" in run("whips").stdout
