"""What is claimed, and found, in invented workshops whose truth is known; more of them in the benchmark."""

import numpy as np

from plaitlog.models.handling.associations import associate
from plaitlog.models.handling.study import Study
from tests.benchmarks.handling import bend_claimed, in_first_four
from tests.handling.simulated import QUALITIES, bent, levelling, nothing, only_skill, planted

DRAWS = 1_999


def claims(study: Study, quality: str, seed: int) -> bool:
    return bool(associate(study, [quality], draws=DRAWS, resamples=50, seed=seed).claimed)


def test_default_answers_seldom_claim_what_is_not_there() -> None:
    """At most one in ten of 200 workshops without any association."""
    claimed = [claims(nothing(30, seed), "volley", seed) for seed in range(200)]
    assert np.mean(claimed) <= 0.10


def test_skill_that_grows_with_build_number_is_seldom_claimed_for_a_taper() -> None:
    claimed = [claims(only_skill(30, seed), "overall", seed) for seed in range(60)]
    assert np.mean(claimed) <= 0.10


def test_two_planted_effects_are_among_the_first_four_of_their_quality_nine_times_in_ten() -> None:
    both = []
    for seed in range(20):
        study = planted(40, seed)
        found = associate(study, QUALITIES, list(study.parameters), draws=DRAWS, resamples=50, seed=seed)
        both.append(
            in_first_four(found, "volley", "point_mm")
            and in_first_four(found, "accuracy", "weight_per_length_g_per_m")
        )
    assert np.mean(both) >= 0.9


def test_a_planted_bend_is_claimed_nine_times_in_ten() -> None:
    assert np.mean([bend_claimed(bent(50, seed, share=0.9), seed) for seed in range(30)]) >= 0.9


def test_a_trend_that_levels_off_is_seldom_claimed_as_a_bend() -> None:
    bends = [
        any(
            one.bend_claimed
            for one in associate(levelling(60, seed), ["ease"], draws=999, resamples=20).claimed
        )
        for seed in range(60)
    ]
    assert np.mean(bends) <= 0.10
