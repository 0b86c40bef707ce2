"""Expected weight, balance and cord use as `show` tells them."""

import json

CORD = (
    '{"kind":"cord","name":"Ridge 4 mm","construction":"cored","material":"nylon","diameter_mm":4,'
    '"linear_density_g_per_m":6}'
)


def whip(label: str, strands: int, grams: float) -> str:
    layer = {"role": "core", "cord": "Ridge 4 mm", "strands": [[0, strands]]}
    facts = {"kind": "whip", "label": label, "status": "finished", "datum": "handle end",
             "thong_length_mm": 1000, "handle_length_mm": 0, "layers": [layer],
             "weight_g": grams, "weight_with": "none"}  # fmt: skip
    return json.dumps(facts)


def test_show_tells_the_expected_weight_and_asks_to_look_again_at_one_far_off(run, file) -> None:  # type: ignore[no-untyped-def]
    alike = [whip(f"W{n}", n, 6.0 * n) for n in range(8, 16)]
    run("import", file(CORD, *alike, whip("odd", 12, 720.0)))
    odd, sound = run("show", "odd").output, run("show", "W10").output
    assert "noted 720 g: look again" in odd
    assert "balances at 19 " in odd
    assert "Ridge 4 mm: 12.0 m" in odd
    assert "noted 60 g\n" in sound
    told = json.loads(run("show", "W10", "--json").stdout)["weighing"]
    assert told["weight_low_90_g"] < 60 < told["weight_high_90_g"]
    assert abs(told["balance_mm"] - 500) < 1e-9
    assert told["cord_use"] == [{"cord": "Ridge 4 mm", "metres": 10.0}]
