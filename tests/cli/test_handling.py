"""``plaitlog handling``: the question a new user asks of the demo, and what few or odd records answer."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from plaitlog.seed_demo.workshop import seed
from plaitlog.service.database import write
from plaitlog.service.migrate import ready_engine
from tests.cli.conftest import Run

RIDGE = {"kind": "cord", "name": "Ridge 4 mm", "material": "nylon", "construction": "cored", "diameter_mm": 4}


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The invented workshop, without a fit; the tests only look at it."""
    database = str(tmp_path_factory.mktemp("demo") / "demo.db")
    engine, _ = ready_engine(database)
    write(engine, seed)
    engine.dispose()
    return database


@pytest.fixture
def demo(run: Run, workshop: str, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A command line on the invented workshop."""
    monkeypatch.setenv("PLAITLOG_DATABASE_URL", workshop)
    return run


def test_the_question_on_stock_whips_is_answered_in_one_command_words_first(
    demo: Run, tmp_path: Path
) -> None:
    folder = tmp_path / "report"
    words = demo("handling", "--quality", "volley", "--type", "stock whip", "--report", str(folder)).stdout
    first = words.splitlines()[0]
    assert first.startswith("Only 8 stock whips are rated for volley, too few to lean on a statistic")
    assert "Best: " in words
    assert "smaller middle share" in words
    page = (folder / "handling.html").read_text()
    assert first in page
    assert page.count("<svg") == 5
    assert json.loads((folder / "handling.json").read_text())["summary"].startswith(first)


def test_the_planted_truth_is_found_and_nothing_else_is_claimed(demo: Run) -> None:
    def claimed(quality: str) -> dict[str, tuple[float, bool]]:
        told = json.loads(demo("handling", "--quality", quality, "--json").stdout)
        return {
            one["parameter"]: (one["rho"], one["bend_claimed"])
            for one in told["associations"]
            if one["claimed"] or one["bend_claimed"]
        }

    # Early tapers are good for volley: a smaller middle share, and the mass nearer to the hand.
    volley = claimed("volley")
    assert volley["middle_share"][0] < -0.6
    # Thin points are too, and weigh less; nothing else of the six is tied to it.
    assert volley.keys() <= {"middle_share", "half_mass_fraction", "point_mm", "weight_per_length_g_per_m"}
    assert claimed("accuracy").keys() == {"weight_per_length_g_per_m"}
    assert claimed("roll-out").keys() == {"drop_spacing_trend"}
    assert claimed("roll-out")["drop_spacing_trend"][1]
    for quality in ("ease", "recovery", "tracking", "balance", "overall"):
        assert claimed(quality) == {}


def test_everything_against_everything_says_its_price(demo: Run) -> None:
    words = demo("handling", "--all", "--quality", "recovery").stdout
    assert words.startswith("Nothing can be claimed: ")
    assert "tests with their bends, are one family" in words
    assert "wave-speed factor" in words


def test_a_plan_is_held_beside_rated_whips_and_candidates_are_ranked(
    demo: Run, file: Callable[..., str], tmp_path: Path
) -> None:
    spec = {
        "pattern": "stock whip", "thong_length": "5 ft 6 in", "handle_length": "0 in",
        "layers": [{"role": "core", "cord": "Ridge 4 mm"}, {"role": "overlay", "cord": "Beck 2.5 mm"}],
    }  # fmt: skip
    demo("plan", file(json.dumps(spec), name="spec.json"), "--out", str(tmp_path / "plan"))
    plan = str(tmp_path / "plan" / "plan.json")
    told = json.loads(
        demo(
            "handling", "--quality", "volley", "--like", plan, "--try", plan, "--try", "2024-003", "--json"
        ).stdout
    )
    assert len(told["aim"]["nearest"]) == 5
    assert {one["label"] for one in told["next"]["candidates"]} == {"next whip", "2024-003"}
    words = demo("handling", "--quality", "volley", "--like", plan).stdout
    assert "Rated whips most like it:" in words


def test_words_that_are_not_known_are_answered_with_the_nearest(demo: Run) -> None:
    assert "did you mean 'volley'?" in demo("handling", "--quality", "vollee", code=2).stderr
    assert "did you mean 'stock whip'?" in demo("handling", "--type", "stok whip", code=2).stderr


def test_three_whips_with_half_of_it_missing_say_from_how_many_nothing_is_concluded(
    run: Run, file: Callable[..., str]
) -> None:
    assert "no whip is rated yet" in run("handling", code=2).stderr
    whips = [
        {"kind": "whip", "label": f"a {k}", "thong_length_mm": 1500, "handle_length_mm": 0,
         "readings": [{"at_mm": 50, "diameter_mm": 14 + k}], "ratings": {"volley": 5}}
        for k in range(3)
    ]  # fmt: skip
    run("import", file(json.dumps(RIDGE), *map(json.dumps, whips)))
    words = run("handling", "--quality", "volley").stdout
    assert words.startswith("Only 3 whips are rated for volley, too few to lean on a statistic")
    assert "no correlation from fewer than 5" in words
    assert "nothing is concluded jointly" in words
