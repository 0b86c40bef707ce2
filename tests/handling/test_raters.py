"""Ratings of raters who judge differently come onto one scale; a comparison moves a whip the right way."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import spearmanr

from plaitlog.models.handling.raters import (
    SMALLEST_SPREAD,
    STEP,
    Comparison,
    Score,
    by_rater,
    raters_of,
    standardised,
)

NAMES = ("Orrin", "Tamsin", "Wenna")
# Mean and spread of each: a lenient one who hardly tells whips apart, a severe one who uses the whole scale.
WAYS = {"Orrin": (8.0, 0.9), "Tamsin": (4.0, 2.2), "Wenna": (6.0, 1.4)}


def values(*given: tuple[str, str, float]) -> dict[str, float]:
    scores = [Score(*one) for one in given]
    return standardised(scores, raters_of(scores))


def invented(seed: int, whips: int = 40, noise: float = 0.5) -> tuple[np.ndarray, list[Score]]:
    """True handling of whips, and whole-number ratings: each whip is judged by one rater, or by two."""
    rng = np.random.default_rng(seed)
    truth = rng.normal(size=whips)
    scores = []
    for number, handling in enumerate(truth):
        for name in rng.choice(NAMES, rng.integers(1, 3), replace=False):
            mean, spread = WAYS[name]
            told = mean + spread * (handling + noise * rng.normal())
            scores.append(Score(f"whip {number}", str(name), float(np.clip(np.round(told), 1, 10))))
    return truth, scores


def in_order(found: dict[str, float], truth: np.ndarray) -> float:
    return float(spearmanr(truth, [found[f"whip {k}"] for k in range(len(truth))]).statistic)


def test_the_true_order_is_found_better_than_by_raw_means() -> None:
    better, gained = 0, []
    for seed in range(40):
        truth, scores = invented(seed)
        raw = {
            whip: float(np.mean([x.value for x in scores if x.whip == whip]))
            for whip in {x.whip for x in scores}
        }
        own, plain = in_order(standardised(scores, raters_of(scores)), truth), in_order(raw, truth)
        better += own > plain
        gained.append(own - plain)
    assert better >= 38
    assert np.mean(gained) > 0.2


def test_leniency_and_spread_of_a_rater_are_found() -> None:
    _, scores = invented(1, whips=400)
    found = raters_of(scores)
    for name, (mean, spread) in WAYS.items():
        one = found[name]
        # The severest and the most lenient are cut off at the ends of the scale, which narrows them a little.
        assert one.mean == pytest.approx(mean, abs=3 * spread * 1.12 / one.ratings**0.5 + 0.1)
        assert one.spread == pytest.approx(spread * 1.25**0.5, rel=0.15)


def test_a_rater_of_few_whips_is_taken_to_be_more_like_the_others() -> None:
    many = [
        Score(f"a{k}", "Orrin", value) for k, value in enumerate([5.0, 6.0, 7.0, 6.0, 5.0, 7.0, 6.0, 6.0])
    ]
    other = [Score(f"b{k}", "Tamsin", value) for k, value in enumerate([4.0, 5.0, 3.0, 4.0, 5.0, 3.0])]
    one = raters_of([*many, *other, Score("c", "Wenna", 10.0)])["Wenna"]
    assert 5.0 < one.mean < 10.0
    assert one.spread < 10.0
    wide = raters_of([*many, *other, *(Score(f"c{k}", "Wenna", 10.0) for k in range(50))])["Wenna"]
    assert one.mean < wide.mean < 10.0


@given(
    st.lists(
        st.tuples(st.sampled_from("abcd"), st.sampled_from(NAMES), st.integers(1, 10).map(float)), min_size=1
    ),
    st.floats(-50, 50),
)
def test_whatever_the_ratings_the_values_are_finite_and_a_shift_of_all_changes_nothing(
    given_: list[tuple[str, str, float]], shift: float
) -> None:
    found = values(*given_)
    assert found.keys() == {whip for whip, _, _ in given_}
    assert np.isfinite(list(found.values())).all()
    moved = values(*((whip, rater, value + shift) for whip, rater, value in given_))
    assert moved == pytest.approx(found, abs=1e-9)


@given(st.lists(st.integers(1, 10).map(float), min_size=2, max_size=20))
def test_a_single_rater_keeps_the_order_and_has_the_mean_of_nothing(ratings: list[float]) -> None:
    found = values(*((f"{k:02d}", "Orrin", value) for k, value in enumerate(ratings)))
    out = [found[f"{k:02d}"] for k in range(len(ratings))]
    assert np.mean(out) == pytest.approx(0.0, abs=1e-9)
    for a, one in zip(ratings, out, strict=True):
        for b, other in zip(ratings, out, strict=True):
            assert (a > b) == (one > other)


def test_one_rating_alone_says_nothing_of_better_or_worse() -> None:
    assert values(("a", "Orrin", 9.0)) == {"a": 0.0}
    assert raters_of([Score("a", "Orrin", 9.0)])["Orrin"].ratings == 1


def test_a_rater_who_gives_all_the_same_tells_no_whips_apart() -> None:
    found = values(*((whip, "Orrin", 7.0) for whip in "abcde"))
    assert set(found.values()) == {0.0}
    assert raters_of([Score(whip, "Orrin", 7.0) for whip in "abcde"])["Orrin"].spread >= SMALLEST_SPREAD


def test_the_spread_of_a_rater_of_two_whips_is_mostly_that_of_everybody() -> None:
    many = [Score(f"a{k}", "Orrin", value) for k, value in enumerate([4.0, 6.0, 8.0] * 6)]
    two = [Score("b", "Wenna", 1.0), Score("c", "Wenna", 10.0)]
    found = raters_of([*many, *two])
    own = np.std([1.0, 10.0], ddof=1)
    assert found["Orrin"].spread < found["Wenna"].spread < 0.7 * own
    alike = raters_of([*many, Score("b", "Wenna", 6.0), Score("c", "Wenna", 6.0)])
    assert 0.8 < alike["Wenna"].spread / alike["Orrin"].spread < 1.0


def test_no_spread_is_believed_that_is_finer_than_half_a_point() -> None:
    close = [Score(f"a{k}", "Orrin", 7.0 + 0.1 * (k % 2)) for k in range(20)]
    assert raters_of(close)["Orrin"].spread == SMALLEST_SPREAD
    assert max(standardised(close, raters_of(close)).values()) == pytest.approx(0.05 / SMALLEST_SPREAD)


def test_nothing_rated_is_nothing() -> None:
    assert raters_of([]) == {}
    assert standardised([], {}) == {}
    assert by_rater([], {}) == []


def test_a_comparison_stands_a_step_from_the_whip_it_was_thrown_beside() -> None:
    told = [Comparison("x", "a", "better"), Comparison("y", "a", "same"), Comparison("z", "a", "worse")]
    found = standardised([], {}, told, {"a": 0.4, "b": -2.0})
    assert found == pytest.approx({"x": 0.4 + STEP, "y": 0.4, "z": 0.4 - STEP})


def test_a_comparison_with_an_unrated_whip_counts_for_nothing_not_for_zero() -> None:
    assert standardised([], {}, [Comparison("x", "nobody rated it", "better")], {}) == {}
    scores = [Score("a", "Orrin", 3.0), Score("b", "Orrin", 8.0)]
    raters = raters_of(scores)
    alone = standardised(scores, raters)
    assert standardised(scores, raters, [Comparison("a", "?", "same")], alone) == alone


def test_a_comparison_counts_beside_numbers_like_another_session() -> None:
    scores = [Score("a", "Orrin", 3.0), Score("b", "Orrin", 8.0)]
    raters = raters_of(scores)
    alone = standardised(scores, raters)
    both = standardised(scores, raters, [Comparison("a", "b", "same")], alone)
    assert both["a"] == pytest.approx((alone["a"] + alone["b"]) / 2)
    assert both["b"] == alone["b"]


def test_comparisons_alone_order_whips_better_than_chance() -> None:
    """Half of the whips are rated in numbers; the others only thrown beside one of these."""
    rng = np.random.default_rng(3)
    truth, scores = invented(3, whips=80)
    numbers = [x for x in scores if int(x.whip.split()[1]) < 40]
    raters = raters_of(numbers)
    rated = standardised(numbers, raters)
    told = []
    for k in range(40, 80):
        for other in rng.choice(40, 3, replace=False):
            apart = truth[k] - truth[other] + 0.5 * rng.normal()
            word = "same" if abs(apart) < 0.4 else "better" if apart > 0 else "worse"
            told.append(Comparison(f"whip {k}", f"whip {other}", word))
    found = standardised(numbers, raters, told, rated)
    order = spearmanr(truth[40:], [found[f"whip {k}"] for k in range(40, 80)]).statistic
    assert order > 0.6, "pure chance exceeds 0.4 in one of 200"
    assert {whip: found[whip] for whip in rated} == rated
