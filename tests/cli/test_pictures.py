"""chart, show --drawing and card: files of the kind that their name asks for, tables without one."""

import json
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip
from tests.cli.test_start import loaded

SIGNS = {".svg": b"<svg", ".png": b"\x89PNG\r\n\x1a\n", ".pdf": b"%PDF-"}


@pytest.fixture
def workshop(run: Run, file: Callable[..., str]) -> None:
    run("import", file(*text(RIDGE, FELL, whip(), whip("no layers", layers=[], readings=[]))))


@pytest.mark.parametrize(
    "command", [("chart", "Fell 3 mm", "--out"), ("show", "2026-014", "--drawing"), ("card", "--out")]
)
@pytest.mark.parametrize("kind", SIGNS)
def test_a_picture_is_written_in_the_kind_that_its_name_asks_for(
    run: Run, workshop: None, tmp_path: Path, command: tuple[str, ...], kind: str
) -> None:
    target = tmp_path / f"picture{kind}"
    said = run(*command, str(target))
    assert target.read_bytes().startswith(SIGNS[kind])
    assert said.stdout == ""
    assert target.name in said.stderr
    if kind == ".svg":
        ET.parse(target)


@pytest.mark.parametrize(
    "command", [("chart", "Fell 3 mm", "--out"), ("show", "2026-014", "--drawing"), ("card", "--out")]
)
def test_another_kind_of_file_is_refused_before_anything_is_done(
    run: Run, workshop: None, tmp_path: Path, command: tuple[str, ...]
) -> None:
    said = run(*command, str(tmp_path / "picture.gif"), code=2)
    assert "end it in .svg, .png or .pdf" in said.stderr
    assert not (tmp_path / "picture.gif").exists()
    assert "cannot be written" in run(*command, str(tmp_path / "no folder" / "picture.svg"), code=2).stderr


def test_chart_prints_a_table_that_says_what_it_rests_on(run: Run, workshop: None) -> None:
    lines = run("chart", "Fell 3 mm").stdout.splitlines()
    assert lines[0].startswith("Fell 3 mm: finished diameter of a plait (mm), with its 90 % interval")
    assert "no fit is stored" in lines[1]
    assert "3 readings on plaits of this cord" in lines[1]
    assert lines[2].split()[:3] == ["strands", "over", "nothing"]
    assert any(line.startswith("note: Fell 3 mm is not weighed") for line in lines)


def test_chart_of_one_body_answers_how_many_strands_give_what(run: Run, workshop: None) -> None:
    predicted = json.loads(
        run("predict", "--cord", "Fell 3 mm", "--for", "12 mm", "--over", "8 mm", "--json").stdout
    )
    wanted = {count["strands"]: count["diameter_mm"] for count in predicted["counts"]}
    (curve,) = json.loads(run("chart", "Fell 3 mm", "--over", "8 mm", "--json").stdout)["curves"]
    assert curve["over_mm"] == 8
    assert len(curve["counts"]) > 4
    for count in curve["counts"]:
        assert count["diameter_mm"] == pytest.approx(wanted[count["strands"]], rel=1e-9)
    rows = run("chart", "Fell 3 mm", "--over", "8 mm").stdout.splitlines()
    for count in curve["counts"]:
        row = next(line for line in rows if line.split()[:1] == [str(count["strands"])])
        assert f"{count['diameter_mm']:.1f} mm" in row


def test_several_bodies_nothing_among_them(run: Run, workshop: None) -> None:
    curves = json.loads(run("chart", "Fell", "--over", "0", "--over", "1/4 in", "--json").stdout)["curves"]
    assert [curve["over_mm"] for curve in curves] == [0, 6.35]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("chart", "Fel 3 mm"), "did you mean 'Fell 3 mm'?"),
        (("chart", "Fell", "--over", "8 kg"), "--over"),
        (("chart", "Fell", "--condition", "wet"), "write fresh, rolled, waxed, broken in"),
        (("chart", "Fell", "--pattern", "herringbone"), "write it like u2o2 or u3o3"),
        (("show", "2026-041", "--drawing", "-"), "did you mean '2026-014'?"),
        (("show", "no layers", "--drawing", "-"), "no stack of no layers is known anywhere"),
        (("card", "--type", "whisk"), "write one of bullwhip"),
        (("card", "--paper", "a3"), "write a4 or letter"),
    ],
)
def test_what_cannot_be_drawn_is_refused_with_the_remedy(
    run: Run, workshop: None, arguments: tuple[str, ...], message: str
) -> None:
    assert message in run(*arguments, code=2).stderr


def test_a_maker_nobody_knows_and_findings_count_when_strict(run: Run, workshop: None) -> None:
    run("chart", "Fell", "--maker", "Wenna")
    run("chart", "Fell", "--strict", code=1)


def test_a_drawing_without_a_file_is_a_table_of_stations(run: Run, workshop: None) -> None:
    lines = run("show", "2026-014", "--drawing", "-").stdout.splitlines()
    heads = next(number for number, line in enumerate(lines) if line.lstrip().startswith("at "))
    assert lines[heads].split() == ["at", "1", "core", "2", "overlay", "predicted", "90", "%", "measured"]
    assert [line.split()[-1] for line in lines if line.endswith(("17.5", "17.0", "9.5"))] == [
        "17.5",
        "17.0",
        "9.5",
    ]
    told = json.loads(run("show", "2026-014", "--drawing", "-", "--json").stdout)
    assert [section["from_mm"] for section in told["sections"]] == [0, 700, 900]
    assert told["sections"][-1]["layers"][0]["low_strands"] == 12


def test_tables_start_without_what_pictures_need(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "records.jsonl").write_text("\n".join(text(RIDGE, FELL, whip())))
    loaded(tmp_path, "import", str(tmp_path / "records.jsonl"))
    heavy = {"altair", "vl_convert", "pandas", "sklearn", "statsmodels"}
    for arguments in (("chart", "Ridge"), ("show", "2026-014", "--drawing", "-")):
        assert not loaded(tmp_path, *arguments) & heavy
    monkeypatch.chdir(tmp_path)
    assert not loaded(tmp_path, "card", "--out", "card.svg") & (
        heavy | {"sqlalchemy.orm"} - {"sqlalchemy.orm"}
    )
