"""What is claimed of parameters against qualities, and what cannot be concluded."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import spearmanr
from statsmodels.stats.multitest import multipletests

from plaitlog.models.handling.associations import HEADLINE, Association, Associations, associate
from plaitlog.models.handling.study import Study
from tests.handling.simulated import QUALITIES, Workshop, bent, nothing, only_skill, planted

NAN = float("nan")
FEW: dict[str, Any] = {"draws": 500, "resamples": 200}


def codes(found: Association | Associations) -> set[str]:
    return {finding.code for finding in found.findings}


def taken(study: Study, order: list[int]) -> Study:
    """Its whips in another order, or some of them."""
    return Study(
        labels=tuple(study.labels[k] for k in order),
        **{
            name: {key: column[order] for key, column in getattr(study, name).items()}
            for name in ("parameters", "parameter_sds", "ratings", "levels", "numbers")
        },
        groups={key: tuple(words[k] for k in order) for key, words in study.groups.items()},
    )


def test_numbers_are_those_of_scipy_and_statsmodels() -> None:
    study = planted(30, 1)
    found = associate(study, ["volley", "ease"], **FEW)
    assert found.family == 2 * 2 * len(HEADLINE)
    for one in found.associations:
        theirs = spearmanr(study.parameters[one.parameter], study.ratings[one.quality]).statistic
        assert one.n == 30
        assert one.rho == pytest.approx(theirs, abs=1e-12)
    trends = [max(one.p or 1, one.partial_p or 1) for one in found.associations]
    bends = [one.bend_p or 1 for one in found.associations]
    q = [one.q for one in found.associations] + [one.bend_q for one in found.associations]
    assert q == pytest.approx(multipletests(trends + bends, method="fdr_bh")[1].tolist(), abs=1e-12)


def test_no_p_is_0_and_no_q_is_below_its_p() -> None:
    for one in associate(planted(40, 2), QUALITIES, **FEW).associations:
        told = [one.p, one.partial_p, one.bend_p, one.q, one.bend_q, one.low_95, one.rho, one.high_95]
        p, partial_p, bend_p, q, bend_q, low, rho, high = (NAN if value is None else value for value in told)
        assert min(p, partial_p, bend_p) >= 1 / 501
        assert q >= max(p, partial_p)
        assert bend_q >= bend_p
        assert -1 <= low <= rho <= high <= 1


def test_the_order_of_whips_does_not_matter() -> None:
    study = planted(25, 3)
    order = np.random.default_rng(0).permutation(25).tolist()
    assert associate(study, ["volley"], **FEW) == associate(taken(study, order), ["volley"], **FEW)


def test_growing_transformations_change_nothing_but_where_a_bend_lies() -> None:
    study = bent(30, 4)
    changed = replace(
        study,
        parameters={name: np.exp(column / 50) for name, column in study.parameters.items()},
        ratings={name: np.arctan(column / 4) for name, column in study.ratings.items()},
        numbers={name: column**3 for name, column in study.numbers.items()},
    )
    plain, other = (associate(one, ["roll_out"], **FEW).associations for one in (study, changed))
    for a, b in zip(plain, other, strict=True):
        assert replace(a, bend_at=None, findings=()) == replace(b, bend_at=None, findings=())


def test_what_a_pair_shows_does_not_depend_on_what_else_is_asked_but_for_q() -> None:
    study = planted(25, 5)
    alone = associate(study, ["volley"], ["point_mm"], **FEW).associations[0]
    among = next(
        one for one in associate(study, QUALITIES, **FEW).associations
        if (one.parameter, one.quality) == ("point_mm", "volley")
    )  # fmt: skip
    assert (alone.low_95, alone.p, alone.partial_p, alone.bend_p) == (
        among.low_95,
        among.p,
        among.partial_p,
        among.bend_p,
    )
    assert alone.q is not None
    assert among.q is not None
    assert alone.q < among.q


def test_parameters_that_cannot_be_told_apart_count_as_one() -> None:
    study = planted(40, 6)
    twin = -2 * study.parameters["point_mm"] + 0.01 * study.parameters["middle_share"]
    study = replace(
        study,
        parameters={**study.parameters, "taper_ratio": twin},
        parameter_sds={**study.parameter_sds, "taper_ratio": np.zeros(40)},
    )
    found = associate(study, ["volley"], [*HEADLINE, "taper_ratio"], **FEW)
    assert found.family == 2 * len(HEADLINE)
    assert {one.parameter: one.alike for one in found.associations}["point_mm"] == ("taper_ratio",)
    assert "count-as-one" in codes(found)


def test_an_effect_of_skill_alone_is_explained_by_the_build_number() -> None:
    found = associate(only_skill(40, 0), ["overall"], draws=2_000, resamples=200)
    tied = [one for one in found.associations if one.p is not None and one.p < 0.01]
    assert len(tied) >= 3
    assert not found.claimed
    for one in tied:
        told = [finding for finding in one.findings if finding.code == "explained-otherwise"]
        assert "which build number may explain" in told[0].text
        assert one.partial_on[0] == "build_number"


def test_a_planted_bend_is_claimed_with_where_it_lies() -> None:
    found = associate(bent(40, 2, share=0.9), ["roll_out"], draws=2_000, resamples=200)
    (one,) = found.claimed
    assert (one.parameter, one.bend, one.claimed) == ("drop_spacing_trend", "best in the middle", False)
    assert one.bend_at == pytest.approx(0.0, abs=0.1)


def test_a_claim_that_was_held_against_nothing_says_so() -> None:
    study = replace(planted(40, 7), numbers={}, groups={})
    (one,) = associate(study, ["volley"], draws=2_000, resamples=200).claimed
    assert (one.parameter, one.partial_on) == ("point_mm", ())
    assert "nothing-accounted-for" in codes(one)


def test_a_parameter_that_is_the_build_number_again_is_not_claimed() -> None:
    shop = Workshop(40, 8)
    shop.rate("overall", shop.build, 0.9)
    shop.latent["point_mm"] = -shop.build
    found = associate(shop.study(), ["overall"], **FEW)
    one = next(one for one in found.associations if one.parameter == "point_mm")
    assert one.p is not None
    assert one.p < 0.01
    assert (one.partial_rho, one.claimed) == (None, False)
    assert "not-apart" in codes(one)


def test_three_whips_tell_no_correlation() -> None:
    found = associate(taken(planted(20, 9), [0, 1, 2]), ["volley"], **FEW)
    assert found.family == 0
    assert not found.claimed
    for one in found.associations:
        assert (one.n, one.rho, one.p, one.q) == (3, None, None, None)
        assert one.findings[0].text.startswith("3 whips have both")


def test_five_whips_tell_a_correlation_but_can_claim_nothing() -> None:
    found = associate(taken(planted(20, 9), [*range(5)]), ["volley"], **FEW)
    assert all(one.p is not None and one.p >= 1 / 60 for one in found.associations)
    assert not found.claimed
    assert "too-few-to-claim" in codes(found)


def test_one_value_for_all_tells_nothing() -> None:
    study = nothing(12, 0)
    flat = {**study.parameters, "point_mm": np.full(12, 5.0)}
    found = associate(replace(study, parameters=flat), ["volley"], **FEW)
    one = found.associations[HEADLINE.index("point_mm")]
    assert (one.n, one.rho, one.low_95, one.p, one.bend_p) == (12, None, None, None, None)
    assert "one-value" in codes(one)
    assert found.family == 2 * (len(HEADLINE) - 1)
    same = replace(study, ratings={"volley": np.full(12, 0.5)})
    nothing_found = associate(same, ["volley"], **FEW)
    assert nothing_found.family == 0
    assert all("one-value" in codes(one) for one in nothing_found.associations)


def test_whips_of_one_type_and_one_maker_say_nothing_of_others() -> None:
    study = nothing(12, 1)
    one_kind = replace(study, groups={"type": ("stock whip",) * 12, "maker": ("Orrin",) * 12})
    assert {"one-type", "one-maker"} <= codes(associate(one_kind, ["volley"], **FEW))


def test_half_missing_is_said_and_never_counted_as_a_value() -> None:
    study = planted(40, 10)
    rating = study.ratings["volley"].copy()
    rating[::2] = np.nan
    rating[1] = np.nan
    holed = replace(study, ratings={**study.ratings, "volley": rating})
    found = associate(holed, ["volley"], **FEW).associations
    rest = [k for k in range(40) if np.isfinite(rating[k])]
    fewer = associate(taken(study, rest), ["volley"], **FEW).associations
    for one, other in zip(found, fewer, strict=True):
        assert one.n == 19
        assert "half-missing" in codes(one)
        assert (one.rho, one.p, one.partial_p) == (other.rho, other.p, other.partial_p)


def test_poorly_measured_parameters_say_how_much_of_a_correlation_shows() -> None:
    study = nothing(40, 2)
    spread = float(np.std(study.parameters["point_mm"], ddof=1))
    sds = {**study.parameter_sds, "point_mm": np.full(40, 0.6 * spread)}
    found = associate(replace(study, parameter_sds=sds), ["volley"], **FEW)
    (finding,) = [finding for finding in found.findings if finding.code == "measurement-error"]
    assert finding.where == "point_mm"
    assert "36%" in finding.text
    assert "0.80 of its size" in finding.text


def test_many_whips_are_told_in_closed_form_and_it_is_said() -> None:
    study = planted(1_100, 11)
    found = associate(study, ["volley"], **FEW)
    assert found.closed_form
    assert not associate(planted(40, 11), ["volley"], **FEW).closed_form
    one = found.ranked("volley")[0]
    assert one.parameter == "point_mm"
    assert one.p == pytest.approx(
        spearmanr(study.parameters["point_mm"], study.ratings["volley"]).pvalue, rel=1e-6
    )


def test_progress_reaches_the_end() -> None:
    told: list[tuple[int, int]] = []
    associate(nothing(12, 3), ["volley"], progress=lambda done, total: told.append((done, total)), **FEW)
    assert told == [(k, 6) for k in range(1, 7)]
