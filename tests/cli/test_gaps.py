"""``plaitlog gaps``, and what ``show`` says a record can be used for."""

import json
from collections.abc import Callable

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip


def test_gaps_of_nothing_and_of_something(run: Run, file: Callable[..., str]) -> None:
    assert "Nothing to weigh yet" in run("gaps").stdout
    run("import", file(*text(RIDGE, FELL, whip())))
    lines = run("gaps", "--top", "2").stdout
    assert "3 readings wait for a fit" in lines
    assert "Fell 3 mm" in lines
    found = json.loads(run("gaps", "--top", "2", "--json").stdout)
    assert len(found["gaps"]) == 2
    assert found["of"] > 2
    assert found["gaps"][0]["narrower_percent"] >= found["gaps"][1]["narrower_percent"]


def test_show_says_what_the_record_is_good_for(run: Run, file: Callable[..., str]) -> None:
    run("import", file(*text(RIDGE, FELL, whip())))
    assert "usable for: fit 3 of 3 readings" in run("show", "2026-014").stdout
    found = json.loads(run("show", "2026-014", "--json").stdout)
    assert found["usable"]["fit"] == {"readings": 3, "usable": 3, "roughly": 0, "left_out": []}
    assert all(each["text"] for each in found["would_buy"])
