"""Rated whips as columns: what was not tried or not noted is not known, comparisons count beside numbers."""

import math

import numpy as np
import pytest

from plaitlog.models.handling.raters import STEP
from plaitlog.models.whip import RatingSession, Whip
from plaitlog.service.usecases.handling.rated import Rated, rated


def whip(label: str, *sessions: RatingSession, type_: str = "bullwhip") -> Whip:
    return Whip(label=label, type=type_, maker="Orrin", ratings=sessions)


def scored(**scores: float | str) -> RatingSession:
    return RatingSession(by="Tamsin", scores=scores)


def beside(label: str, **scores: float | str) -> RatingSession:
    return RatingSession(by="Tamsin", compared_with=label, scores=scores)


LOW, MIDDLE, HIGH = (
    whip("low", scored(ease=3, volley=2)),
    whip("middle", scored(ease=5)),
    whip("high", scored(ease=8, volley=9)),
)


def rating(found: Rated, label: str, quality: str = "ease") -> float:
    labels = [one.label for one in found.whips]
    return float(found.ratings[quality][labels.index(label)])  # type: ignore[index]


def test_a_compared_whip_stands_a_step_from_the_other_and_has_no_level() -> None:
    found = rated([LOW, MIDDLE, HIGH, whip("new", beside("middle", ease="better", volley="better"))])
    assert rating(found, "new") == pytest.approx(rating(found, "middle") + STEP)
    assert math.isnan(rating(found, "new", "volley")), "the other one's volley is not rated"
    assert math.isnan(found.levels["ease"][3])
    worse = rated([LOW, MIDDLE, HIGH, whip("new", beside("high", ease="worse", volley="same"))])
    assert rating(worse, "new") == pytest.approx(rating(worse, "high") - STEP)
    assert rating(worse, "new", "volley") == pytest.approx(rating(worse, "high", "volley"))


def test_a_comparison_moves_no_other_whip_and_no_rater() -> None:
    alone = rated([LOW, MIDDLE, HIGH])
    more = rated([LOW, MIDDLE, HIGH, whip("new", beside("low", ease="worse"))])
    for quality, column in alone.ratings.items():
        np.testing.assert_array_equal(more.ratings[quality][:3], column)
    assert alone.agreement == more.agreement


def test_numbers_and_comparisons_of_one_whip_are_sessions_alike() -> None:
    both = rated([LOW, MIDDLE, HIGH, whip("new", scored(ease=5), beside("high", ease="same"))])
    assert rating(both, "new") == pytest.approx((rating(both, "middle") + rating(both, "high")) / 2)


def test_the_other_whip_may_be_of_another_type_that_was_not_asked_for() -> None:
    other = whip("other", scored(ease=9), type_="stock whip")
    new = whip("new", beside("other", ease="same"))
    found = rated([LOW, HIGH, other, new], "bullwhip")
    assert [one.label for one in found.whips] == ["low", "high", "new"]
    assert rating(found, "new") == pytest.approx(rating(rated([LOW, HIGH, other, new]), "other"))


@pytest.mark.parametrize(
    "session",
    [
        scored(ease="not tried"),
        scored(),
        beside("middle", ease="not tried"),
        beside("middle", volley="better"),
        beside("nowhere", ease="better"),
        beside("chain", ease="better"),
    ],
)
def test_what_says_nothing_is_not_known_and_never_zero(session: RatingSession) -> None:
    """Among them a comparison with a whip that was only compared itself."""
    chain = whip("chain", beside("low", ease="better"))
    found = rated([LOW, MIDDLE, HIGH, chain, whip("new", session)])
    assert [one.label for one in found.whips] == ["low", "middle", "high", "chain"]
    one_more = rated([LOW, MIDDLE, HIGH, chain, whip("new", session, scored(tracking=4))])
    assert math.isnan(rating(one_more, "new"))
    assert math.isnan(one_more.levels["ease"][4])
