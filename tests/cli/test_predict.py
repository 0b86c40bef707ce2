"""``predict`` and ``fit`` at the command line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text, whip

CORE = {"role": "core", "cord": "Ridge 4 mm", "strands": 6}
OVERLAY = {"role": "overlay", "cord": "Fell 3 mm", "strands": 16, "pattern": "u2o2u2o2"}


def ask(**keys: Any) -> dict[str, Any]:
    return {"id": "a1", "maker": None, "layers": [CORE, OVERLAY], **keys}


@pytest.fixture
def workshop(run: Run, file: Callable[..., str]) -> Run:
    run("import", file(*text(RIDGE, FELL, whip(), whip("2026-015"), whip("2026-016", maker="Tamsin"))))
    return run


def answers(run: Run, file: Callable[..., str], *lines: str | bytes, options: tuple[str, ...] = ()) -> Any:
    name = file(*lines, name="stacks.jsonl")
    run("predict", "--stacks", name, "--out", "answers.jsonl", *options)
    return [json.loads(line) for line in Path("answers.jsonl").read_text("utf-8").splitlines()]


def test_answers_come_in_order_with_their_ids_and_a_bad_line_costs_only_itself(
    workshop: Run, file: Callable[..., str]
) -> None:
    told = answers(
        workshop,
        file,
        *text(ask(id="é/1"), ask(id=7, layers=[{**CORE, "strands": -1}])),
        '{"id": "cut off", "layers": [',
        *text(ask(id=None), ask(id="x", layers=[{**CORE, "diameter_mm": float("nan")}])),
        b'{"id": "\xff"}',
        "",
        *text(ask(id="last", layers=[{**CORE, "cord": "Ridge"}])),
    )
    assert [line["id"] for line in told] == ["é/1", 7, None, None, None, None, "last"]
    assert ["error" in line for line in told] == [False, True, True, False, True, True, True]
    for line in told:
        if "error" in line:
            assert set(line) == {"id", "error"}
            assert line["error"]["code"]
            assert line["error"]["text"]
            assert line["error"]["remedy"]
        else:
            assert list(line) == [
                "id", "diameter_mm", "sd_log", "low_50_mm", "high_50_mm", "low_90_mm", "high_90_mm",
                "cover", "new_cord", "findings",
            ]  # fmt: skip
            inside = [
                line[key] for key in ("low_90_mm", "low_50_mm", "diameter_mm", "high_50_mm", "high_90_mm")
            ]
            assert inside == sorted(inside)
    assert told[-1]["error"]["remedy"] == "did you mean 'Ridge 4 mm'?"


@pytest.mark.parametrize(
    ("layers", "code"),
    [
        ([], "empty-stack"),
        ([{"role": "overlay", "diameter_mm": 9}], "layer-needs-strands"),
        ([{"role": "core", "cord": "Ridge 4 mm"}], "layer-open"),
        ([{"role": "core", "strands": 6}], "cord-missing"),
        ([{**CORE, "thickness_mm": 1}], "layer-twice"),
        ([{"role": "core", "diameter_mm": -4.0}], "greater-than"),
        ([{"role": "core", "diameter": "9"}], "unit-missing"),
        ([{**CORE, "strands": [12, 8]}], "count-range"),
        ([{**CORE, "role": "wrap"}], "unknown-word"),
        ([{**CORE, "colour": "red"}], "unknown-key"),
        ([{**CORE, "strands": "6"}], "int-type"),
        ([{**CORE, "strands": True}], "int-type"),
        ([{**CORE, "cord": {"name": "X", "material": "nylon"}}], "missing"),
    ],
)
def test_a_layer_that_cannot_be_is_told_by_its_place(
    workshop: Run, file: Callable[..., str], layers: list[Any], code: str
) -> None:
    (told,) = answers(workshop, file, *text(ask(layers=layers)))
    assert told["error"]["code"] == code
    assert told["error"]["text"].startswith("layers")


def test_an_inline_cord_is_new_and_readings_on_the_same_whip_narrow_the_interval(
    workshop: Run, file: Callable[..., str]
) -> None:
    workshop("fit", "--no-evidence")
    inline = {"name": "Holm 3 mm", "material": "polyester", "construction": "cored", "diameter": "3,1 mm"}
    reading = {"at_mm": 0, "layers": [CORE, OVERLAY], "diameter_mm": 17.5}
    alone, new, after, inner = answers(
        workshop,
        file,
        *text(
            ask(),
            ask(layers=[CORE, {**OVERLAY, "cord": inline}]),
            ask(readings=[reading]),
            ask(readings=[{"at_mm": 0, "layers": [CORE], "diameter_mm": 11.0}]),
        ),
    )
    assert new["sd_log"] > alone["sd_log"]
    assert after["sd_log"] < inner["sd_log"] < alone["sd_log"]
    assert new["new_cord"]


def test_a_range_of_strands_widens_and_the_true_diameter_narrows(
    workshop: Run, file: Callable[..., str]
) -> None:
    lines = text(ask(), ask(layers=[CORE, {**OVERLAY, "strands": [12, 20], "pattern": None}]))
    exact, ranged = answers(workshop, file, *lines)
    assert ranged["sd_log"] > exact["sd_log"]
    true, _ = answers(workshop, file, *lines, options=("--interval", "true"))
    assert true["sd_log"] < exact["sd_log"]


def test_nothing_is_written_where_the_questions_cannot_be_read(workshop: Run, tmp_path: Path) -> None:
    workshop("predict", "--stacks", "nosuch.jsonl", "--out", "answers.jsonl", code=2)
    assert not (tmp_path / "answers.jsonl").exists()
    assert not list(tmp_path.glob(".answers*"))


def test_strict_tells_errors_of_lines(workshop: Run, file: Callable[..., str]) -> None:
    name = file("{", name="stacks.jsonl")
    workshop("predict", "--stacks", name, "--strict", code=1)


def test_without_a_fit_the_priors_answer_and_say_so(workshop: Run, file: Callable[..., str]) -> None:
    told = workshop("predict", "core 6A; overlay 16B", "--letter", "A=Ridge 4 mm", "--letter", "B=fell")
    first, *rest = told.stdout.splitlines()
    assert first.split(" (90 %: ")[0].endswith(" mm")
    assert "measure while you build" in first
    assert "no fit is stored" in "\n".join(rest)
    (line,) = answers(workshop, file, *text(ask()))
    assert "no-fit" in [finding["code"] for finding in line["findings"]]


def test_a_fit_teaches_and_a_changed_record_makes_it_stale(workshop: Run, file: Callable[..., str]) -> None:
    fitted = workshop("fit", "--no-evidence")
    assert "9 readings of 3 whips in 2 cords by 2 makers" in fitted.stdout
    assert "rests mostly on geometry" in fitted.stdout
    (line,) = answers(workshop, file, *text(ask(maker="Orrin")))
    codes = [finding["code"] for finding in line["findings"]]
    assert "stale-fit" not in codes
    assert "no-fit" not in codes
    more = {"kind": "reading", "whip": "2026-014", "at_mm": 300, "diameter_mm": 17.2}
    workshop("import", file(*text(more), name="more.jsonl"))
    (line,) = answers(workshop, file, *text(ask(maker="Orrin")))
    assert "stale-fit" in [finding["code"] for finding in line["findings"]]
    listed = json.loads(workshop("fits", "--json").stdout)
    assert [(one["fit"], one["current"], one["stale"]) for one in listed] == [(1, True, True)]


def test_an_earlier_fit_can_be_put_back(workshop: Run) -> None:
    workshop("fit", "--no-evidence")
    workshop("fit", "--no-evidence")
    assert "1" in workshop("fits", "--use", "1").stdout
    listed = json.loads(workshop("fits", "--json").stdout)
    assert [one["fit"] for one in listed if one["current"]] == [1]
    assert "stored are 1, 2" in workshop("fits", "--use", "9", code=2).stderr


def test_that_whip_in_another_cord_station_by_station(workshop: Run) -> None:
    told = json.loads(workshop("predict", "--like", "2026-014", "--swap", "fell=Ridge 4 mm", "--json").stdout)
    assert [station["at_mm"] for station in told["stations"]] == [100, 500, 1200]
    assert [station["measured_mm"] for station in told["stations"]] == [[17.5], [17.0], [9.5]]
    assert all(x["swapped"]["diameter_mm"] > x["as_was"]["diameter_mm"] for x in told["stations"])
    refused = workshop("predict", "--like", "2026-014", "--swap", "holm=Ridge 4 mm", code=2)
    assert "in it: Ridge 4 mm, Fell 3 mm" in refused.stderr


def test_how_many_strands_for_a_diameter_the_nearest_first(workshop: Run) -> None:
    told = json.loads(
        workshop("predict", "--cord", "Fell 3 mm", "--for", "14 mm", "--over", "8 mm", "--json").stdout
    )
    off = [abs(line["diameter_mm"] - 14) for line in told["counts"]]
    assert off == sorted(off)
    assert {line["strands"]: line["pattern"] for line in told["counts"]}[16] == "u2o2u2o2"
    shown = workshop("predict", "--cord", "fell", "--for", "14", "--over", "8").stdout
    assert shown.split(" strands of ")[0] == str(told["counts"][0]["strands"])


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        ((), "nothing is asked"),
        (("core 6", "--like", "2026-014"), "several things"),
        (("core 6Q",), "letter of no cord"),
        (("core 6; overlay 16",), "which cord is meant"),
        (("overlay 16", "--cord", "mm"), "may be"),
        (("overlay 16", "--letter", "Fell"), "has no ="),
        (("overlay 16", "--cord", "Fell 3 mm", "--interval", "wide"), "write reading or true"),
        (("overlay 16", "--cord", "Fell 3 mm", "--condition", "wet"), "write fresh"),
        (("--for", "14 mm"), "asks for a cord"),
        (("--cord", "Fell 3 mm", "--for", "8 mm", "--over", "9 mm"), "not thinner"),
        (("--cord", "Fell 3 mm", "--for", "fat"), "write it like"),
        (("--like", "2026-14"), "did you mean"),
    ],
)
def test_a_question_that_is_unclear_is_told_how_to_ask(
    workshop: Run, arguments: tuple[str, ...], what: str
) -> None:
    assert what in workshop("predict", *arguments, code=2).stderr


def test_evidence_stands_beside_the_fit(run: Run, file: Callable[..., str]) -> None:
    whips = [whip(f"2026-{n:03}", maker="Orrin" if n % 2 else "Tamsin") for n in range(6)]
    run("import", file(*text(RIDGE, FELL, *whips)))
    told = run("fit", "--jobs", "1").stdout
    assert "On a whip not seen before" in told
    for name in ("model", "geometry alone", "mean ratio of the outer cord", "gradient boosting"):
        assert name in told
    assert "On a whip not seen before" in run("fits", "--evidence", "1").stdout
