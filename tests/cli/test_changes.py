"""``edit``, ``remove``, ``history``, ``undo`` and ``redo`` as a maker meets them."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip

RATING = {"kind": "rating", "whip": "2026-014", "by": "Tamsin", "scores": {"ease": 7}}
STOCK = {"kind": "stock", "cord": "Ridge 4 mm", "colour": "black", "metres": 12}


@pytest.fixture
def workshop(run: Run, file: Callable[..., str]) -> None:
    run("import", file(*text(RIDGE, FELL, whip(weight_g=412, notes="tight"), RATING, STOCK)))


def record(run: Run, *what: str) -> Any:
    return json.loads(run("edit", *what, "--json").stdout)


def test_an_edit_says_what_was_and_what_is(run: Run, workshop: None) -> None:
    told = run("edit", "2026-014", "weight_g=420", "notes=null", "hours=3").stdout
    assert told.splitlines() == [
        "whip 2026-014, change 2:",
        "  weight_g 412 -> 420",
        "  notes tight -> null",
        "  hours null -> 3",
    ]
    again = run("edit", "2026-014", "weight_g=420").stdout
    assert again == "nothing changed: that is what is recorded already\n"
    assert '"weight_g":420' in run("export").stdout


def test_values_are_taken_as_typed(run: Run, workshop: None) -> None:
    run("edit", "2026-014", "weight=15 oz", "label=2027", 'ratings={"ease": 8}')
    found = record(run, "2027")["record"]
    assert (found["label"], found["weight"], found["ratings"]) == ("2027", "15 oz", {"ease": 8})
    assert found["weight_g"] == pytest.approx(425.24, abs=0.01)


def test_cords_makers_readings_ratings_and_stock(run: Run, workshop: None) -> None:
    run("edit", "Ridge 4 mm", "name=Ridge 5 mm", "diameter_mm=5")
    run("edit", "Orrin", "name=Orrin the elder")
    listed = record(run, "2026-014")
    assert listed["record"]["maker"] == "Orrin the elder"
    reading, rating = listed["readings"][1]["number"], listed["ratings"][0]["number"]
    told = run("edit", "2026-014", "--reading", str(reading), "diameter_mm=17.1").stdout
    assert told == f"reading {reading} of 2026-014, change 4:\n  diameter_mm 17 -> 17.1\n"
    run("edit", "2026-014", "--rating", str(rating), "by=null", "on=2026-01-02")
    stock = record(run, "Ridge 5 mm")["stock"][0]["number"]
    run("edit", "Ridge 5 mm", "--stock", str(stock), "metres=7.5")
    assert record(run, "2026-014", "--reading", str(reading))["record"]["diameter_mm"] == 17.1
    assert record(run, "2026-014", "--rating", str(rating))["record"]["on"] == "2026-01-02"
    assert record(run, "Ridge 5 mm", "--stock", str(stock))["record"]["metres"] == 7.5
    assert record(run, "Orrin the elder")["version"] == 3


def test_without_changes_it_lists_what_can_be_changed(run: Run, workshop: None) -> None:
    listed = run("edit", "2026-014").stdout
    assert listed.startswith("whip 2026-014, version 1\n")
    assert "  weight_g=412\n" in listed
    assert "  --reading 1\n      whip=2026-014\n      at_mm=100\n      diameter_mm=17.5\n" in listed
    assert "  --rating 1\n" in listed
    assert "  --stock 1\n" in run("edit", "Ridge 4 mm").stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("edit", "2026-014", "hour=3", "wait=2"), ["did you mean 'hours'?", "did you mean 'weight'?"]),
        (("edit", "2026-041", "hours=3"), ["did you mean '2026-014'?"]),
        (("edit", "2026-014", "hours"), ["write it like weight_g=420"]),
        (("edit", "2026-014", "hours=3", "hours=4"), ["hours: stands twice"]),
        (("edit", "2026-014", "weight_g=-3"), ["weight_g: -3 is not a size"]),
        (("edit", "2026-014", "--kind", "rope", "hours=3"), ["'rope' is no kind"]),
        (("edit", "2026-014", "--kind", "cord", "notes=x"), ["no cord '2026-014'"]),
        (("edit", "2026-014", "--reading", "77", "at_mm=3"), ["no reading number 77"]),
        (
            ("edit", "Fell 3 mm", "--stock", "1", "metres=3"),
            ["stock 1 is of 'Ridge 4 mm', not of 'Fell 3 mm'"],
        ),
        (("edit", "2026-014", "--reading", "1", "--rating", "1", "at_mm=3"), ["one thing at a time"]),
        (("edit", "2026-014", "--version", "77", "weight_g=420"), ["412 is stored, 420 was typed"]),
        (("remove", "Ridge 4 mm"), ["cord 'Ridge 4 mm' is named by 2026-014"]),
        (("remove", "2026-014", "--version", "77"), ["changed in the meantime"]),
        (("redo",), ["no change that was undone"]),
        (("undo", "77"), ["no change 77"]),
        (("history", "--change", "77"), ["no change 77"]),
    ],
)
def test_refusals_say_what_to_mend(
    run: Run, workshop: None, arguments: tuple[str, ...], said: list[str]
) -> None:
    before = run("export").stdout
    told = run(*arguments, code=2).stderr
    assert all(part in told for part in said), told
    assert run("export").stdout == before


def test_a_name_of_two_things_asks_which(run: Run, workshop: None, file: Callable[..., str]) -> None:
    run("import", file(*text(whip("Ridge 4 mm"))))
    assert "is a whip and a cord; add --kind whip" in run("edit", "Ridge 4 mm", "notes=x", code=2).stderr
    run("edit", "Ridge 4 mm", "notes=x", "--kind", "cord")
    assert record(run, "Ridge 4 mm", "--kind", "cord")["record"]["notes"] == "x"


def test_what_is_removed_comes_back(run: Run, workshop: None) -> None:
    before = run("export").stdout
    run("remove", "2026-014", "--reading", "1")
    told = run("remove", "2026-014").stdout
    assert told == "removed whip 2026-014, change 3; 'plaitlog undo 3' brings it back\n"
    assert "2026-014" not in run("whips").stdout
    told = run("undo").stdout
    assert told.startswith("undid change 3 (remove of 2026-014); this is change 4\n")
    assert "whip 2026-014: added" in told
    assert "undid change 2" in run("undo").stdout
    assert run("export").stdout == before
    assert run("redo").stdout.startswith("did again: change 2 (remove of 2026-014); this is change 6\n")


def test_what_came_later_is_named_and_nothing_is_undone(run: Run, workshop: None) -> None:
    run("edit", "2026-014", "hours=3")
    run("edit", "2026-014", "hours=4")
    before = run("export").stdout
    assert "change 3 (edit) has touched whip 2026-014 since; undo change 3 first" in (
        run("undo", "2", code=2).stderr
    )
    assert run("export").stdout == before


def test_the_history_of_the_workshop_and_of_one_whip(run: Run, workshop: None) -> None:
    run("edit", "2026-014", "label=2026-015")
    run("edit", "Fell 3 mm", "notes=soft")
    run("undo")
    lines = run("history").stdout.splitlines()
    assert "undo of change 3 (Fell 3 mm): 1 cord" in lines[0]
    assert lines[1].strip() == "cord Fell 3 mm: notes soft -> null"
    assert lines[2].endswith("edit Fell 3 mm: 1 cord [undone]")
    assert "import records.jsonl" in lines[-1]
    of_whip = run("history", "2026-015").stdout
    assert "whip 2026-015: label 2026-014 -> 2026-015" in of_whip
    assert "whip 2026-014: added" in of_whip
    assert "Fell" not in of_whip
    assert "nothing in the history is about 'x'" in run("history", "x").stderr
    (first,) = json.loads(run("history", "--change", "1", "--json").stdout)
    assert first["touched"] == {"cord": 2, "maker": 1, "rating": 1, "stock": 1, "whip": 1}
    assert len(first["entries"]) == 6
    (latest,) = json.loads(run("history", "--limit", "1", "--json").stdout)
    assert (latest["action"], latest["of"], latest["undone"]) == ("undo", 3, False)
    assert [change["number"] for change in json.loads(run("history", "--before", "3", "--json").stdout)] == [
        2,
        1,
    ]


def test_programs_get_json(run: Run, workshop: None) -> None:
    edited = json.loads(run("edit", "2026-014", "weight_g=420", "--json").stdout)
    assert (edited["change"], edited["version"], edited["before"]["weight_g"]) == (2, 2, 412)
    undone = json.loads(run("undo", "--json").stdout)
    assert (undone["number"], undone["of"], undone["action"]) == (3, 2, "undo")
    removed = json.loads(run("remove", "2026-014", "--json").stdout)
    assert (removed["change"], removed["record"]["label"]) == (4, "2026-014")
