"""Expected weight, balance and cord use as `fit`, `show` and `predict --like` tell them."""

import json

import pytest

CORD = (
    '{"kind":"cord","name":"%s","construction":"cored","material":"nylon","diameter_mm":4,'
    '"linear_density_g_per_m":%g}'
)
RIDGE, FELL = CORD % ("Ridge 4 mm", 6), CORD % ("Fell 4 mm", 12)


def whip(label: str, strands: int, grams: float) -> str:
    """A core of parallel strands over 1 m with a heel knot; readings as thick as geometry says."""
    layer = {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, strands]]}
    thick = round((4 / 3.14159 * strands * 6 / 1.14 / 0.58) ** 0.5, 1)
    facts = {"kind": "whip", "label": label, "status": "finished", "datum": "handle end",
             "thong_length_mm": 1000, "handle_length_mm": 0, "layers": [layer],
             "readings": [{"at_mm": at, "diameter_mm": thick} for at in (200, 500, 800)],
             "weight_g": grams, "weight_with": "none"}  # fmt: skip
    return json.dumps(facts)


@pytest.fixture
def fitted(run, file):  # type: ignore[no-untyped-def]
    alike = [whip(f"W{n}", n, 6.0 * n + 10) for n in range(8, 16)]
    run("import", file(RIDGE, FELL, *alike, whip("odd", 12, 820.0)))
    return run("fit").output


def test_fit_and_fits_say_how_well_weights_are_predicted(fitted, run) -> None:  # type: ignore[no-untyped-def]
    assert "Weight of 9 whips left out in turn: off by" in fitted
    assert "1 that nothing came near is left out" in fitted
    assert "Balance" not in fitted
    assert "Weight of 9 whips" in run("fits", "--evidence", "1").output


def test_show_tells_the_expected_weight_and_asks_to_look_again_at_one_far_off(fitted, run) -> None:  # type: ignore[no-untyped-def]
    odd, sound = run("show", "odd").output, run("show", "W10").output
    assert "from 9 weighed whips" in sound
    (noted,) = [line for line in odd.splitlines() if "noted 820 g" in line]
    assert "look again at the weight" in noted
    (noted,) = [line for line in sound.splitlines() if "noted 70 g" in line]
    assert "look again" not in noted
    told = json.loads(run("show", "W10", "--json").stdout)["weighing"]
    assert told["weight_low_90_g"] < 70 < told["weight_high_90_g"]
    assert abs(told["balance_from_butt_mm"] - 60 * 500 / 70) < 1e-6
    (use,) = told["cord_use"]
    assert use["cord"] == "Ridge 4 mm"
    assert use["low_90_m"] < use["metres"] < use["high_90_m"]
    assert use["metres"] == pytest.approx(10 + 10 * 0.25)


def test_a_whip_in_a_cord_twice_as_heavy_weighs_twice_its_strands(fitted, run) -> None:  # type: ignore[no-untyped-def]
    told = json.loads(run("predict", "--like", "W10", "--swap", "Ridge 4 mm=Fell 4 mm", "--json").stdout)
    own = json.loads(run("predict", "--like", "W10", "--json").stdout)["weighing"]
    swapped = told["weighing"]
    assert swapped["weight_g"] - own["weight_g"] == pytest.approx(60, rel=0.1)
    wider = swapped["weight_high_90_g"] / swapped["weight_low_90_g"]
    assert wider > own["weight_high_90_g"] / own["weight_low_90_g"]
    assert [use["cord"] for use in swapped["cord_use"]] == ["Fell 4 mm"]
    assert any("never weighed" in text for text in swapped["findings"])
    words = run("predict", "--like", "W10", "--swap", "Ridge 4 mm=Fell 4 mm").output
    assert "Expected weight" in words
    assert "balances at" in words
