"""Weights of simulated whips: intervals cover, and plain rivals are beaten where they should be."""

import math

import numpy as np
import pytest

from plaitlog.models.calibration.weight import Weighing, fit_weights, weight_evidence

CORDS = tuple(f"Ridge {k}" for k in range(8))


def workshop(seed: int, whips: int, cord_sd: float = 0.08, whip_sd: float = 0.02) -> list[Weighing]:
    """Two cords a whip, one weight after the core and one at the end; true level 0.05."""
    rng = np.random.default_rng(seed)
    effect = dict(zip(CORDS, rng.normal(0, cord_sd, len(CORDS)), strict=True))
    found = []
    for number in range(whips):
        inside, outside = rng.choice(CORDS, 2, replace=False)
        own = rng.normal(0, whip_sd)
        for share in (1.0, rng.uniform(0.3, 0.7)):
            shares = {str(inside): share, str(outside): 1 - share}
            log = 0.05 + own + sum(part * effect[cord] for cord, part in shares.items()) + rng.normal(0, 0.01)
            geometry = rng.uniform(100, 500)
            found.append(Weighing(f"W{number:03}", geometry * math.exp(log), geometry, shares))
    return found


def test_left_out_whips_are_covered_and_both_plain_rivals_beaten() -> None:
    evidence = [weight_evidence(workshop(seed, 30)) for seed in range(4)]
    for one in evidence:
        assert one is not None
        assert one.model < one.mean_ratio
        assert one.model < one.geometry_alone
    assert 0.83 <= np.mean([one.coverage_90 for one in evidence if one is not None]) <= 0.97


def test_a_cord_never_weighed_is_covered_and_wider() -> None:
    held = []
    for seed in range(12):
        rows = workshop(seed, 25)
        for cord in CORDS:
            fit = fit_weights([one for one in rows if cord not in one.shares])
            new = [one for one in rows if one.shares.get(cord, 0.0) == 1.0][:1]
            for one in new:
                found = fit.predict(one.geometry_g, one.shares)
                known = fit.predict(one.geometry_g, {next(c for c in fit.cords if c != cord): 1.0})
                assert found.high_90_g / found.low_90_g > known.high_90_g / known.low_90_g
                held.append(found.low_90_g <= one.weight_g <= found.high_90_g)
        if seed == 2:
            break
    assert np.mean(held) >= 0.75


def test_without_weights_the_priors_answer_with_a_wide_interval() -> None:
    found = fit_weights([]).predict(300.0, {"Fell 3 mm": 1.0})
    assert found.weight_g == pytest.approx(300.0)
    assert found.high_90_g / found.low_90_g > 1.5


def test_one_whip_of_one_cord_gives_finite_numbers() -> None:
    found = fit_weights([Weighing("W", 330.0, 300.0, {"Fell 3 mm": 1.0})]).predict(300.0, {"Fell 3 mm": 1.0})
    assert 300.0 < found.weight_g < 330.0
    assert found.low_90_g < found.weight_g < found.high_90_g


def test_what_is_unknown_on_the_scale_widens() -> None:
    fit = fit_weights(workshop(1, 10))
    bare, unknown = (fit.predict(300.0, {CORDS[0]: 1.0}, sd) for sd in (0.0, 0.3))
    assert unknown.high_90_g / unknown.low_90_g > bare.high_90_g / bare.low_90_g
    assert weight_evidence(workshop(1, 2)) is None
