"""Records that cannot teach much, through the command line: words, wide intervals, no crash."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip

ASKED = {
    "id": 1,
    "layers": [
        {"role": "core", "cord": "Ridge 4 mm", "strands": 6},
        {"role": "overlay", "cord": "Fell 3 mm", "strands": 16},
    ],
}


def constant(label: str) -> dict[str, Any]:
    return whip(label, readings=[{"at_mm": at, "diameter_mm": 12} for at in (100, 500, 900, 1200, 1700)])


def width(run: Run, file: Callable[..., str]) -> float:
    """Highest over lowest diameter of the 90 % interval."""
    run("predict", "--stacks", file(json.dumps(ASKED), name="asked.jsonl"), "--out", "told.jsonl")
    (told,) = map(json.loads, Path("told.jsonl").read_text("utf-8").splitlines())
    return float(told["high_90_mm"] / told["low_90_mm"])


@pytest.mark.parametrize(
    ("whips", "words"),
    [
        ([whip()], "of 1 whip: it rests mostly on geometry and priors"),
        ([whip(readings=[{"at_mm": 300, "diameter_mm": 17}] * 6)], "there more than once; each counts once"),
        ([constant("a"), constant("b")], "nothing was learnt"),
        ([whip("a"), whip("b"), whip("c", maker="Tamsin")], "fewer than two makers have two whips each"),
    ],
    ids=["one whip", "duplicate rows", "constant readings", "a maker with one whip"],
)
def test_a_fit_to_little_says_so_and_still_predicts(
    run: Run, file: Callable[..., str], whips: list[dict[str, Any]], words: str
) -> None:
    run("import", file(*text(RIDGE, FELL, *whips)))
    said = " ".join(run("fit").output.split())
    assert words in said
    assert "nan" not in said
    assert 1.1 < width(run, file) < 3
