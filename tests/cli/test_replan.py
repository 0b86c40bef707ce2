"""``plaitlog replan``: what lies ahead of a whip on the bench, by what was measured of it."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from plaitlog.seed_demo.cords import cord_records
from plaitlog.seed_demo.workshop import SEED
from tests.cli.conftest import Run

PLAN: dict[str, Any] = {
    "label": "O-40",
    "maker": "Orrin",
    "thong_length": "900 mm",
    "handle_length": "0 mm",
    "target": {"taper": "even", "thick_end": "12 mm", "point": "6 mm"},
    "layers": [
        {"role": "core", "cord": "Ridge 4 mm", "start": 3},
        {"role": "overlay", "cord": "Beck 2.5 mm", "start": 16},
    ],
}


@pytest.fixture
def planned(run: Run, file: Callable[..., str], tmp_path: Path) -> Path:
    """A plan in a folder, and its whip on the bench with the first readings of its overlay."""
    run("import", file(*map(json.dumps, cord_records(SEED))))
    folder = tmp_path / "plan"
    run("plan", file(json.dumps(PLAN), name="spec.json"), "--out", str(folder))
    run("start", "O-40", str(folder / "plan.json"))
    readings = [
        {"kind": "reading", "whip": "O-40", "at_mm": at, "diameter_mm": size}
        for at, size in ((100, 12.9), (250, 12.0))
    ]
    run("import", file(*map(json.dumps, readings)))
    return folder


def test_what_lies_ahead_is_planned_again_from_the_plan_itself(
    run: Run, planned: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "again"
    told = json.loads(run("replan", "O-40", str(planned / "plan.json"), "--json").stdout)
    before = json.loads((planned / "plan.json").read_text())
    assert told["readings"] == 2
    assert "the point is expected at" in told["point"]
    assert told["layers"][0] == before["layers"][0]
    behind = [step for step in before["layers"][1]["strands"] if step[0] <= 250]
    assert told["layers"][1]["strands"][: len(behind)] == behind
    run("replan", "O-40", str(planned / "plan.json"), "--out", str(folder))
    assert (folder / "sheet.pdf").stat().st_size > 1_000
    words = run("replan", "O-40", str(planned / "plan.json")).output
    assert "by 2 readings of O-40" in words


def test_without_a_file_the_plan_kept_with_the_whip_says_what_is_wanted(run: Run, planned: Path) -> None:
    by_file = json.loads(run("replan", "O-40", str(planned / "plan.json"), "--json").stdout)
    assert json.loads(run("replan", "O-40", "--json").stdout) == by_file
    run("edit", "O-40", "plan=null")
    assert "no plan is kept with O-40" in run("replan", "O-40", code=2).stderr


def test_the_new_layers_are_recorded_on_request_and_an_undo_brings_the_old_ones_back(
    run: Run, planned: Path
) -> None:
    before = json.loads(run("show", "O-40", "--json").stdout)
    told = json.loads(run("replan", "O-40", "--record", "--json").stdout)
    after = json.loads(run("show", "O-40", "--json").stdout)
    assert [x["strands"] for x in after["layers"]] == [x["strands"] for x in told["layers"]]
    assert after["layers"] != before["layers"]
    assert after["plan"] == before["plan"]
    run("undo")
    assert json.loads(run("show", "O-40", "--json").stdout)["layers"] == before["layers"]


def test_the_kept_plan_says_what_the_plan_itself_says(run: Run, planned: Path) -> None:
    """Finished and after the core, at the first station; both worked out by geometry alone here."""
    plan = json.loads((planned / "plan.json").read_text())
    kept = json.loads(run("show", "O-40", "--json").stdout)["plan"]
    by_place = {(x["at_mm"], x.get("after_layer")): x for x in kept["stations"]}
    for at in (0, 900):
        told = next(x for x in plan["stations"] if x["at_mm"] == at)
        assert by_place[at, None]["diameter_mm"] == pytest.approx(told["diameter_mm"], abs=0.01)
        assert by_place[at, None]["target_mm"] == pytest.approx(told["target_mm"], abs=0.01)
    assert 4 < by_place[0, 1]["diameter_mm"] < by_place[0, None]["diameter_mm"]
    assert kept["weight_g"] == plan["weight_g"]


def test_show_tells_where_and_why_a_finished_whip_differs_from_its_plan(run: Run, planned: Path) -> None:
    run("replan", "O-40", "--record")
    run("edit", "O-40", "status=finished", "hours=9")
    words = run("show", "O-40").stdout
    assert "Beside its plan (no fit is stored" in words
    assert " of 2 finished readings lie in the 90 % interval that was planned" in words
    assert "layer 2 planned as overlay" in words
    beside = json.loads(run("show", "O-40", "--json").stdout)["beside_plan"]
    assert [(x["at_mm"], x["measured_mm"]) for x in beside] == [(100, 12.9), (250, 12)]
    for line in beside:
        assert sum(line["parts_mm"].values()) == pytest.approx(line["off_mm"])


def test_a_belly_that_is_done_leaves_the_overlay_open(run: Run, planned: Path) -> None:
    asked = ("replan", "O-40", str(planned / "plan.json"), "--layer", "1", "--to", "900 mm", "--json")
    told = json.loads(run(*asked).stdout)
    before = json.loads((planned / "plan.json").read_text())
    assert told["layers"][0] == before["layers"][0]


def test_a_whip_is_started_once_with_the_layers_of_its_plan(run: Run, planned: Path) -> None:
    plan = planned / "plan.json"
    told = json.loads(run("show", "O-40", "--json").stdout)
    assert told["status"] == "on the bench"
    assert [layer["strands"] for layer in told["layers"]] == [
        layer["strands"] for layer in json.loads(plan.read_text())["layers"]
    ]
    assert "recorded already" in run("start", "O-40", str(plan), code=2).stderr
    assert "on the bench already" in run("start", "O-40", code=2).stderr
    run("undo")
    run("undo")
    assert "O-40" in run("show", "O-40", code=2).stderr


def test_a_planned_whip_is_put_on_the_bench(run: Run, file: Callable[..., str]) -> None:
    run("import", file(json.dumps({"kind": "whip", "label": "O-41", "status": "planned"})))
    run("start", "O-41")
    assert json.loads(run("show", "O-41", "--json").stdout)["status"] == "on the bench"
    assert "no plan" in run("start", "O-42", file('{"label": "x"}'), code=2).stderr


def test_half_a_standing_and_an_unknown_whip_are_refused(run: Run, planned: Path) -> None:
    plan = str(planned / "plan.json")
    assert "together" in run("replan", "O-40", plan, "--layer", "1", code=2).stderr
    assert "O-99" in run("replan", "O-99", plan, code=2).stderr
