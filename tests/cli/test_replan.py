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
    made = json.loads((folder / "plan.json").read_text())
    layers = [
        {"role": one["role"], "cord": one["cord"], "strands": one["strands"], "fate": one["fate"]}
        for one in made["layers"]
    ]
    whip = {
        "kind": "whip", "label": "O-40", "maker": "Orrin", "status": "on the bench", "datum": "handle end",
        "thong_length_mm": 900, "handle_length_mm": "none", "foundation": "none", "layers": layers,
        "readings": [{"at_mm": 100, "diameter_mm": 12.9}, {"at_mm": 250, "diameter_mm": 12.0}],
    }  # fmt: skip
    run("import", file(json.dumps(whip)))
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


def test_a_belly_that_is_done_leaves_the_overlay_open(run: Run, planned: Path) -> None:
    asked = ("replan", "O-40", str(planned / "plan.json"), "--layer", "1", "--to", "900 mm", "--json")
    told = json.loads(run(*asked).stdout)
    before = json.loads((planned / "plan.json").read_text())
    assert told["layers"][0] == before["layers"][0]


def test_half_a_standing_and_an_unknown_whip_are_refused(run: Run, planned: Path) -> None:
    plan = str(planned / "plan.json")
    assert "together" in run("replan", "O-40", plan, "--layer", "1", code=2).stderr
    assert "O-99" in run("replan", "O-99", plan, code=2).stderr
