"""``plaitlog plan``: a file or questions in; text, JSON, a bench sheet and a drawing out."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from plaitlog.models.errors import Finding
from plaitlog.seed_demo.cords import cord_records
from plaitlog.seed_demo.workshop import SEED
from plaitlog.service.cli.output import to_mend
from plaitlog.service.schemas.plan_answer import PlanOut
from tests.cli.conftest import Run

EXAMPLE = Path(__file__).parents[1] / "planning" / "examples" / "snake-whip.toml"
PLAN: dict[str, Any] = {
    "label": "O-40",
    "maker": "Orrin",
    "thong_length": "3 ft",
    "target": {"thick_end": "12 mm", "point": "6 mm"},
    "layers": [{"role": "core", "cord": "Ridge 4 mm"}, {"role": "overlay", "cord": "Beck"}],
}
WHIP: dict[str, Any] = {
    "kind": "whip",
    "label": "O-31",
    "maker": "Orrin",
    "type": "snake whip",
    "status": "finished",
    "thong_length": "3 ft",
    "handle_length": "none",
    "foundation": "none",
    "weight_g": 80,
    "weight_with": "none",
    "layers": [
        {"role": "core", "cord": "Ridge 4 mm", "strands": "in: 3; 8: -1 each 6 to 0 cut"},
        {"role": "overlay", "cord": "Beck 2.5 mm", "strands": "in: 16; 12: -2 each 6 to 8 tuck 3; p"},
    ],
    "readings": "in mm: 0: 12.1; 6: 11.8; 12: 11.0; 18: 11.2; 24: 8.4; 30: 7.0",
}


@pytest.fixture
def cords(run: Run, file: Callable[..., str]) -> None:
    run("import", file(*map(json.dumps, [*cord_records(SEED), WHIP])))


@pytest.fixture
def spec(file: Callable[..., str]) -> str:
    return file(json.dumps(PLAN), name="plan.json")


@pytest.mark.usefixtures("cords")
def test_a_plan_in_plain_text_and_as_files(run: Run, spec: str, tmp_path: Path) -> None:
    before = run("export").stdout
    folder = tmp_path / "made" / "for it"
    done = run("plan", spec, "--out", str(folder), "--paper", "letter")
    lines = done.stdout.splitlines()
    assert lines[0].startswith("O-40: Orrin, 3 ft thong; places from the handle end")
    assert lines[1] == (
        "no fit is stored: this rests on geometry and common sense alone. "
        "Predictions are estimates; measure while you build."
    )
    assert any(line.startswith("1. core: ") and "Ridge 4 mm; down to" in line for line in lines)
    assert any(line.startswith("2. overlay: ") and "tucked 3 in, gutted" in line for line in lines)
    assert any(line.split()[:2] == ["at", "wanted"] for line in lines)
    assert any(line.startswith("Off the target by ") and "at even distances" in line for line in lines)
    assert any(line.startswith("Expected weight ") for line in lines)
    hours = next(line for line in lines if line.startswith("About "))
    assert hours.endswith(", a guess: no hours are recorded")
    assert any(line.startswith("Cut ") and " m of Beck 2.5 mm in " in line for line in lines)
    assert sorted(one.name for one in folder.iterdir()) == [
        "drawing.svg",
        "plan.json",
        "sheet.html",
        "sheet.pdf",
    ]
    told = json.loads((folder / "plan.json").read_text())
    assert told.pop("spec") == PLAN
    PlanOut.model_validate(told)
    assert (folder / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert "O-40" in (folder / "drawing.svg").read_text()
    assert "O-40" in (folder / "sheet.html").read_text()
    assert run("export").stdout == before


def test_strict_counts_what_can_be_mended_not_what_is_remarked() -> None:
    remark = Finding("pattern", "stock whip: common practice, no source")
    mend = Finding("stock-lacks", "7 m of Beck 2.5 mm are not in stock", "buy more")
    assert to_mend([remark, mend]) == [mend]
    assert to_mend([remark]) == []


@pytest.mark.usefixtures("cords")
def test_places_of_findings_are_told_on_the_tape_they_were_asked_on(
    run: Run, file: Callable[..., str]
) -> None:
    fine = {**PLAN, "target": {"thick_end": "12 mm", "point": "3 mm"}}
    said = run("plan", file(json.dumps(fine), name="fine.json")).stdout
    (note,) = [line for line in said.splitlines() if "the fewest that the rules allow" in line]
    assert re.fullmatch(
        r"note: ([\d/ ]+ to )?36 in: \d\.\d mm too thick( at 36 in)?, where 3\.0 mm is wanted: "
        "4 strands, .*; a thinner cord",
        note,
    )


@pytest.mark.usefixtures("cords")
def test_json_is_the_plan_alone_on_standard_output(run: Run, spec: str) -> None:
    told = json.loads(run("plan", spec, "--json").stdout)
    PlanOut.model_validate(told)
    places = [drop["at_mm"] / 12.7 for layer in told["layers"] for drop in layer["drops"]]
    assert places == pytest.approx([round(place) for place in places])
    run("plan", spec, "--json", "--strict", code=1)
    assert json.loads(run("plan", "-", "--json", typed=json.dumps(PLAN)).stdout) == told


@pytest.mark.usefixtures("cords")
def test_recorded_hours_teach_how_long_the_next_whip_takes(run: Run, spec: str) -> None:
    guess = json.loads(run("plan", spec, "--json").stdout)
    run("edit", "O-31", "hours=2")
    told = json.loads(run("plan", spec, "--json").stdout)
    assert 2 < told["hours"] < guess["hours"]
    assert told["hours_high_90"] / told["hours_low_90"] < guess["hours_high_90"] / guess["hours_low_90"]
    said = run("plan", spec).stdout
    assert ", from 1 whip of Orrin\n" in said
    run("edit", "O-31", "status=planned")
    assert json.loads(run("plan", spec, "--json").stdout)["hours"] == guess["hours"]


@pytest.mark.usefixtures("cords")
def test_toml_in_millimetres_is_told_in_millimetres(run: Run) -> None:
    said = run("plan", str(EXAMPLE)).stdout
    assert said.startswith("next snake whip: snake whip, 1200 mm thong")
    assert "80 mm, gutted" in said
    assert " in " not in next(line for line in said.splitlines() if line.startswith("1. core"))


@pytest.mark.usefixtures("cords")
def test_several_plans_side_by_side(run: Run, spec: str) -> None:
    lines = run("plan", spec, "--choices").stdout.splitlines()
    assert lines[0].split()[0] == "plan"
    assert lines[1].startswith("as asked for")
    assert any(line.startswith("fewer cords: all of Beck 2.5 mm") for line in lines)
    told = json.loads(run("plan", spec, "--choices", "--json").stdout)
    assert len(told["choices"]) == lines.index("") - 1
    assert told["choices"][0]["layers"] == told["layers"]
    fewer = next(one for one in told["choices"] if one["words"].startswith("fewer drops"))
    assert fewer["drops"] < told["drops"]
    assert fewer["misfit"] >= told["misfit"]


@pytest.mark.usefixtures("cords")
def test_an_overlay_in_two_cords_goes_from_plan_to_record(
    run: Run, file: Callable[..., str], tmp_path: Path
) -> None:
    two: dict[str, Any] = {"role": "overlay", "start": 12}
    two["cords"] = [{"cord": "Beck", "share": 8}, {"cord": "Fell 3 mm", "share": 4}]
    spec = file(json.dumps({**PLAN, "layers": [PLAN["layers"][0], two]}), name="two.json")
    done = run("plan", spec, "--out", str(tmp_path))
    assert "8 strands of Beck 2.5 mm and 4 of Fell 3 mm u3o3; down to 10 (6 + 4) at" in done.stdout
    told = json.loads((tmp_path / "plan.json").read_text())
    assert told["layers"][1]["by_cord"][0] == [0.0, {"Beck 2.5 mm": 8, "Fell 3 mm": 4}]
    page = (tmp_path / "sheet.html").read_text()
    assert "Begin with 8 strands of B (Beck 2.5 mm) and 4 strands of C (Fell 3 mm)." in page
    assert "2B: tuck 3 in gutted" in page
    run("start", "O-42", str(tmp_path / "plan.json"))
    shown = run("show", "O-42").stdout
    assert re.search(r"8 strands of \w \(Beck 2\.5 mm\) and 4 of \w \(Fell 3 mm\)", shown)


@pytest.mark.usefixtures("cords")
def test_make_it_again_and_its_matched_pair(run: Run, file: Callable[..., str]) -> None:
    again = json.loads(run("plan", file('{"target": {"like": "O-31"}}', name="a.json"), "--json").stdout)
    assert [one["strands"][0][1] for one in again["layers"]] == [3, 16]
    assert again["stations"][0]["target_mm"] == 12.1
    level = [one["target_mm"] for one in again["stations"] if 12 * 25.4 <= one["at_mm"] <= 18 * 25.4]
    assert level == pytest.approx([11.1] * len(level))
    pair = run("plan", file('{"target": {"pair_of": "O-31"}}', name="b.json")).stdout
    assert "O-31 weighs 80 g; this one is expected at " in pair


@pytest.mark.usefixtures("cords")
def test_questions_are_asked_for_what_is_missing(run: Run, spec: str, file: Callable[..., str]) -> None:
    typed = ["", "", "stok whip", "?", "stock whip", "5", "5 ft", "", "Ridge 4 mm", "", "Beck"]
    done = run("plan", "--interactive", "--json", typed="\n".join([*typed, ""]))
    assert "did you mean 'stock whip'" in done.stderr
    assert "common practice" in done.stderr
    assert "no unit in '5'" in done.stderr
    told = json.loads(done.stdout)
    assert [(one["role"], one["cord"]) for one in told["layers"]] == [
        ("core", "Ridge 4 mm"),
        ("overlay", "Beck 2.5 mm"),
    ]
    assert told["thong_length_mm"] == pytest.approx(1524)
    assert (told["label"], told["maker"]) == ("next whip", "Orrin")
    assert told["stations"][0]["target_mm"] == 14.0
    same = file('{"target": {"like": "O-31"}}', name="c.json")
    assert json.loads(run("plan", same, "--interactive", "--json", typed="\n").stdout)["maker"] == "Orrin"
    run("plan", "--interactive", typed="O-41\n\nlike O-31\n")
    assert "nothing was written" in run("plan", "--interactive", typed="\n\nstock whip\n", code=1).stderr


@pytest.mark.usefixtures("cords")
def test_what_cannot_be_planned_ends_with_2_and_writes_nothing(
    run: Run, file: Callable[..., str], tmp_path: Path
) -> None:
    folder = tmp_path / "out"

    def refused(text: str, *told: str, name: str = "x.json") -> None:
        done = run("plan", file(text, name=name), "--out", str(folder), code=2)
        assert done.stdout == ""
        for part in told:
            assert part in done.stderr

    refused(json.dumps({**PLAN, "thong_lenght": "5 ft"}), "thong_lenght", "did you mean 'thong_length'")
    refused(json.dumps({**PLAN, "target": {"thick_end": "99"}}), "target, thick_end", "target, point")
    refused(json.dumps({**PLAN, "fit": 9}), "fit 9")
    refused('{"target": {"like": "O-13"}}', "O-31")
    refused('{"target": ', "x.json", "line 1, column")
    refused("label = \n", "y.toml", "line 1, column 9", name="y.toml")
    core = {"role": "core", "cord": "Ridge 4 mm", "start": 2, "ends": "20 in"}
    both = [core, core, PLAN["layers"][1]]  # two layers cannot end at one place
    refused(json.dumps({**PLAN, "layers": both}), "allow no schedule", "other starts or ends")
    assert not folder.exists()
    assert "--interactive" in run("plan", code=2).stderr
    assert "a4 or letter" in run("plan", str(EXAMPLE), "--paper", "a5", code=2).stderr
    assert "cannot be read" in run("plan", "nowhere.json", code=2).stderr
