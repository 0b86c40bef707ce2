"""Ratios of simulated whips: intervals cover, rivals are beaten, weighing early helps."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.calibration.ratio_evidence import ratio_evidence
from plaitlog.models.calibration.ratios import Ratio, RatioCalibration, Reckoned, fit_ratios
from plaitlog.models.calibration.whip_ratios import WEIGHT

CORDS = tuple(f"Ridge {k}" for k in range(8))


def workshop(seed: int, whips: int, cord_sd: float = 0.08, whip_sd: float = 0.02) -> list[Ratio]:
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
            reckoned = Reckoned(value=rng.uniform(100, 500), cords=shares)
            found.append(Ratio(f"W{number:03}", reckoned.value * math.exp(log), reckoned))
    return found


def width(found: object) -> float:
    return found.high_90 / found.low_90  # type: ignore[attr-defined, no-any-return]


def test_left_out_whips_are_covered_and_both_plain_rivals_beaten() -> None:
    evidence = [ratio_evidence(workshop(seed, 30), WEIGHT) for seed in range(4)]
    for one in evidence:
        assert one is not None
        assert one.model < one.mean_ratio
        assert one.model < one.reckoned
    assert 0.83 <= np.mean([one.coverage_90 for one in evidence if one is not None]) <= 0.97


def test_a_cord_never_measured_is_covered_and_wider() -> None:
    held = []
    for seed in range(3):
        rows = workshop(seed, 25)
        for cord in CORDS:
            fit = fit_ratios([one for one in rows if cord not in one.reckoned.cords], WEIGHT)
            for one in [one for one in rows if one.reckoned.cords.get(cord, 0.0) == 1.0][:1]:
                found = fit.expect(one.reckoned)
                known = replace(one.reckoned, cords={next(c for c in fit.cords if c != cord): 1.0})
                assert width(found) > width(fit.expect(known))
                held.append(found.low_90 <= one.measured <= found.high_90)
    assert np.mean(held) >= 0.75


def test_what_was_weighed_of_the_same_whip_narrows_and_still_covers() -> None:
    """The weight after the core says most of what the whip's own pull is; nobody learnt from these whips."""
    held, narrower, errors = [], [], []
    for seed in range(16):
        rows = workshop(seed, 60, whip_sd=0.06)
        fit = fit_ratios(rows[:60], WEIGHT)
        for early, finished in zip(rows[60::2], rows[61::2], strict=True):
            told, alone = fit.expect(finished.reckoned, [early]), fit.expect(finished.reckoned)
            held.append(told.low_90 <= finished.measured <= told.high_90)
            narrower.append(width(told) < width(alone))
            errors.append([math.log(finished.measured / x.value) ** 2 for x in (told, alone)])
    assert all(narrower)
    assert 0.84 <= np.mean(held) <= 0.95
    told, alone = np.mean(errors, axis=0)
    assert told < 0.3 * alone


def test_early_weights_condition_as_the_joint_normal_distribution_says() -> None:
    """One cord, everything known: the posterior of a bivariate normal, worked out by its closed form."""
    fit = RatioCalibration(
        parts=(), cords=("Fell 3 mm",), whips=9, measurements=9,
        coefficients=np.array([0.1, 0.0]), covariance=np.zeros((2, 2)),
        cord_variance=0.0, whip_variance=0.03**2, residual_variance=0.01**2,
    )  # fmt: skip
    one = Reckoned(value=200.0, cords={"Fell 3 mm": 1.0})
    told = fit.expect(one, [Ratio("W", 100 * math.exp(0.15), replace(one, value=100.0))])
    gain = 0.03**2 / (0.03**2 + 0.01**2)
    assert told.value == pytest.approx(200 * math.exp(0.1 + gain * 0.05))
    sd = math.sqrt(0.03**2 + 0.01**2 - gain * 0.03**2)
    assert math.log(told.high_90 / told.value) == pytest.approx(1.6448536 * sd, rel=1e-6)


def test_handles_are_told_apart_from_cords() -> None:
    """Handles weigh a third more than reckoned and strands as reckoned: a whip without one is not moved."""
    rng = np.random.default_rng(5)
    rows = []
    for number in range(30):
        share = rng.uniform(0.1, 0.5)
        shares = {"cords": {CORDS[0]: 1 - share}, "parts": {"handle": share}}
        weight = 300 * (1 - share + share * 4 / 3) * math.exp(rng.normal(0, 0.01))
        rows.append(Ratio(f"W{number}", weight, Reckoned(value=300.0, **shares)))
    fit = fit_ratios(rows, WEIGHT)
    bare = fit.expect(Reckoned(value=300.0, cords={CORDS[0]: 1.0}))
    half = fit.expect(Reckoned(value=300.0, cords={CORDS[0]: 0.5}, parts={"handle": 0.5}))
    assert bare.value == pytest.approx(300.0, rel=0.02)
    assert half.value == pytest.approx(300.0 * 7 / 6, rel=0.02)


def test_a_mistyped_weight_moves_next_to_nothing_and_lies_outside_of_its_interval() -> None:
    rows = workshop(3, 12)
    bad = [replace(one, measured=10 * one.measured) if k == 7 else one for k, one in enumerate(rows)]
    clean, robust = fit_ratios(rows, WEIGHT), fit_ratios(bad, WEIGHT)
    for one in rows:
        assert robust.expect(one.reckoned).value == pytest.approx(clean.expect(one.reckoned).value, rel=0.04)
    assert bad[7].measured > robust.expect(bad[7].reckoned).high_90


def test_without_measurements_the_priors_answer_with_a_wide_interval() -> None:
    found = fit_ratios([], WEIGHT).expect(Reckoned(value=300.0, cords={"Fell 3 mm": 1.0}))
    assert found.value == pytest.approx(300.0)
    assert width(found) > 1.5


def test_one_whip_of_one_cord_gives_finite_numbers() -> None:
    reckoned = Reckoned(value=300.0, cords={"Fell 3 mm": 1.0})
    found = fit_ratios([Ratio("W", 330.0, reckoned)], WEIGHT).expect(reckoned)
    assert 300.0 < found.value < 330.0
    assert found.low_90 < found.value < found.high_90


def test_what_is_guessed_widens_and_two_whips_are_no_evidence() -> None:
    fit = fit_ratios(workshop(1, 10), WEIGHT)
    sure = Reckoned(value=300.0, cords={CORDS[0]: 1.0})
    assert width(fit.expect(replace(sure, unknown_sd=0.3))) > width(fit.expect(sure))
    assert ratio_evidence(workshop(1, 2), WEIGHT) is None


def test_a_calibration_comes_back_from_json_and_a_broken_one_is_refused() -> None:
    fit = fit_ratios(workshop(2, 12), WEIGHT)
    kept = json.loads(json.dumps(fit.to_dict(), allow_nan=False))
    asked = Reckoned(value=250.0, cords={CORDS[1]: 0.6, "Holm 3 mm": 0.3}, parts={"rod": 0.1})
    assert RatioCalibration.from_dict(kept).expect(asked) == fit.expect(asked)
    with pytest.raises(ValueError, match="belong together"):
        RatioCalibration.from_dict({**kept, "cords": kept["cords"][1:]})
    moved = [*kept["coefficients"][:-1], kept["coefficients"][-1] + 1e-3]
    with pytest.raises(ValueError, match="stored"):
        RatioCalibration.from_dict({**kept, "coefficients": moved})
    with pytest.raises(ValueError, match="variance"):
        RatioCalibration.from_dict({**kept, "whip_variance": -1.0})


@pytest.mark.parametrize("value", [0.0, -3.0, math.nan, math.inf])
def test_nothing_is_reckoned_from_no_mass(value: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        Reckoned(value=value)
