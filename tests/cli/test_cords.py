"""``plaitlog cords``: the list, and one more from what was measured on the bench."""

import json
from collections.abc import Callable

import pytest

from tests.cli.conftest import Run
from tests.cli.lines import FELL, RIDGE, text

GIVEN = ("--name", "Moor 4 mm", "--material", "nylon", "--construction", "cored")


def cords(run: Run) -> dict[str, dict[str, object]]:
    return {cord["name"]: cord for cord in json.loads(run("cords", "--json").stdout)}


def test_the_list_says_what_is_not_measured_yet(run: Run, file: Callable[..., str]) -> None:
    run("import", file(*text(RIDGE, FELL)))
    listed = run("cords").stdout
    assert "weigh 10 m" in next(line for line in listed.splitlines() if "Fell" in line)
    assert "weigh 10 m" not in next(line for line in listed.splitlines() if "Ridge" in line)


def test_a_cord_is_worked_out_from_scale_ruler_and_calipers(run: Run) -> None:
    run(
        "cords", "add", *GIVEN, "--weighed-length", "10", "--grams", "72", "--ten-strands", "44",
        "--touching", "4", "--pressed", "2,1 mm",
    )  # fmt: skip
    (cord,) = cords(run).values()
    assert cord["linear_density_g_per_m"] == pytest.approx(7.2)
    assert cord["flat_width_mm"] == pytest.approx(4.4)
    assert cord["diameter_mm"] == pytest.approx(4.0)
    assert cord["pressed_mm"] == pytest.approx(2.1)
    assert cord["lacks"] == []


def test_the_questions_ask_for_the_same_and_ask_again(run: Run) -> None:
    typed = ["Moor 4 mm", "nylon", "braided", "cored", "32'10", "2.54 oz", "44", "fat", "4", ""]
    told = run("cords", "add", typed="\n".join(typed) + "\n")
    assert "'braided' is no construction" in told.stderr
    assert "'fat' is not a diameter" in told.stderr
    (cord,) = cords(run).values()
    # 32 ft 10 in are 10.0076 m, 2.54 oz are 72.01 g (the inch and the ounce by definition)
    assert cord["linear_density_g_per_m"] == pytest.approx(2.54 * 28.349523125 / (394 * 0.0254), rel=1e-6)
    assert cord["lacks"] == ["pressed_mm"]


def test_each_missing_measurement_is_worth_something_and_two_narrow_the_interval(run: Run) -> None:
    told = json.loads(run("cords", "add", *GIVEN, "--touching", "4", "--json").stdout)["worth"]
    gains = {gain["key"]: gain for gain in told["lacks"]}
    assert set(gains) == {"linear_density_g_per_m", "flat_width_mm", "pressed_mm"}
    width = told["high_90_mm"] - told["low_90_mm"]
    for key in ("linear_density_g_per_m", "flat_width_mm"):
        assert gains[key]["high_90_mm"] - gains[key]["low_90_mm"] < width
    assert gains["flat_width_mm"]["shift_mm"] > 0


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ((*GIVEN, "--weighed-length", "10"), "its weight is missing"),
        ((*GIVEN, "--grams", "72"), "the length weighed is missing"),
        ((*GIVEN, "--weighed-length", "0", "--grams", "72"), "more than 0"),
        ((*GIVEN, "--touching", "-4"), "is not a diameter"),
        ((*GIVEN, "--ten-strands", "nan"), "nan"),
        ((*GIVEN[:-1], "knitted"), "is no construction"),
    ],
)
def test_what_cannot_be_taken_is_refused_and_nothing_is_added(
    run: Run, options: tuple[str, ...], what: str
) -> None:
    assert what in run("cords", "add", *options, code=2).stderr
    assert cords(run) == {}


def test_a_name_that_is_taken_is_refused(run: Run) -> None:
    run("cords", "add", *GIVEN)
    assert "in the workshop already" in run("cords", "add", *GIVEN, code=2).stderr
