"""The lot of a layer's cord and its turn lengths, as a maker meets them at the command line."""

import json
from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip


def test_lot_and_turn_are_shown_and_exported(run: Run, file: Callable[..., str]) -> None:
    made = whip(turn_lengths=[{"at_mm": 100, "turn_mm": 40}])
    made["layers"][1]["lot"] = "2026-02"
    run("import", file(*text(RIDGE, FELL, made)))
    shown = run("show", "2026-014").output
    assert "Fell 3 mm of lot 2026-02" in shown
    assert "one turn in" in shown
    run("export", "--out", "all.jsonl")
    records = [json.loads(line) for line in Path("all.jsonl").read_text("utf-8").splitlines()]
    (exported,) = (record for record in records if record["kind"] == "whip")
    assert [layer.get("lot") for layer in exported["layers"]] == [None, "2026-02"]
    assert exported["turn_lengths"] == [{"at_mm": 100, "turn_mm": 40}]
