"""The first sentence says what may be claimed, or that nothing may; on planted, null and few whips."""

import numpy as np
import pytest

from plaitlog.models.handling.associations import HEADLINE, associate
from plaitlog.models.handling.contrast import contrast
from plaitlog.models.handling.study import Study
from plaitlog.service.usecases.handling.parameter_values import said
from plaitlog.service.usecases.handling.words import bend_text, cells, leading, p_text, price
from plaitlog.service.usecases.shown_units import ShownUnits

SHOWN = ShownUnits("in", "mm")


def study(n: int, seed: int, *, effect: float = 0.0, bend: float = 0.0) -> Study:
    """Whips whose volley rises with the middle share, or bends in the drop-spacing trend; else of nothing."""
    chance = np.random.default_rng(seed)
    X = {name: chance.standard_normal(n) for name in HEADLINE}
    noise = np.sqrt(max(1 - effect**2 - bend**2, 0.0)) * chance.standard_normal(n)
    bent = (X["drop_spacing_trend"] ** 2 - 1) / np.sqrt(2)
    rating = effect * X["middle_share"] - bend * bent + noise
    return Study(
        labels=tuple(f"whip {k:02}" for k in range(n)),
        parameters=X,
        parameter_sds={name: np.zeros(n) for name in HEADLINE},
        ratings={"volley": rating},
        levels={"volley": np.clip(np.round(6 + 1.5 * rating), 1, 10)},
        numbers={"build_number": np.arange(1.0, n + 1)},
        groups={"maker": ("Orrin",) * n},
    )


def told(of: Study, type_: str | None = "stock whip") -> list[str]:
    found = associate(of, ["volley"], draws=999, resamples=200)
    return list(leading(found, "volley", contrast(of, "volley"), type_, SHOWN))


@pytest.mark.parametrize("seed", range(3))
def test_with_no_discovery_the_first_sentence_says_so(seed: int) -> None:
    first, second = told(study(40, seed))
    assert first == (
        "Nothing can be claimed: over 40 stock whips no parameter goes with volley beyond what chance alone "
        "would give (at most 5 % false claims)."
    )
    assert second.startswith("Nearest to a claim: ")


def test_a_planted_effect_leads() -> None:
    first, *_ = told(study(40, 1, effect=0.8))
    assert first.startswith(
        "Volley goes with a greater middle share, that is how much of the difference is left at half the "
        "length: rank correlation +0."
    )
    assert "beside build number" in first
    assert first.endswith("over 40 stock whips.")


def test_a_planted_bend_is_told_with_where_it_turns() -> None:
    (first, *_) = told(study(60, 2, bend=0.95), None)
    assert first.startswith(
        "Volley is best in the middle of drop-spacing trend, that is whether drops spread"
    )
    assert ", near " in first


def test_below_fifteen_rated_whips_the_best_beside_the_worst_lead() -> None:
    few = study(9, 0, effect=0.9)
    first, second, third, *_ = told(few)
    assert first.startswith("Only 9 stock whips are rated for volley, too few to lean on a statistic")
    order = np.argsort(-few.ratings["volley"])
    best, worst = [few.labels[k] for k in order[:3]], [few.labels[k] for k in order[::-1][:3]]
    assert second == f"Best: {', '.join(best)}. Worst: {', '.join(worst)}."
    assert third.startswith("The best have a ")


def test_three_whips_say_what_cannot_be_said() -> None:
    sentences = told(study(3, 0))
    assert sentences[0].startswith("Only 3 stock whips are rated for volley")
    assert sentences[-1] == "Nothing can be said of volley: no parameter is known of enough rated whips."


def test_the_price_counts_every_test() -> None:
    found = associate(study(40, 0), ["volley"], draws=99, resamples=50)
    assert price(found).startswith(
        "6 pairs of parameter and quality, 12 tests with their bends, are one family"
    )
    assert "about 0.6 of them" in price(found)


def test_a_bend_that_is_not_claimed_is_not_told_as_one() -> None:
    found = associate(study(40, 0), ["volley"], draws=99, resamples=50)
    assert all(bend_text(one).startswith("none seen (p ") for one in found.associations)
    assert all(len(cells(one)) == 8 for one in found.associations)


@pytest.mark.parametrize(
    ("p", "text"), [(0.5, "0.500"), (0.04, "0.040"), (0.0001, "0.0001"), (3e-9, "below 1e-06")]
)
def test_no_p_is_written_as_nothing(p: float, text: str) -> None:
    assert p_text(p) == text


@pytest.mark.parametrize(
    ("parameter", "number", "text"),
    [
        ("point_mm", 7.04, "7.0 mm"),
        ("drop_spacing_mm", 76.2, "3 in"),
        ("middle_share", 0.431, "0.43"),
        ("weight_per_length_g_per_m", 154.6, "155 g/m"),
        ("drop_spacing_trend", 0.207, "+0.21"),
        ("inertia_per_mass_mm2", 123456.0, "123,500 mm²"),
        ("taper_rate_thick", 5.26, "5.3 mm/m"),
    ],
)
def test_values_have_their_units(parameter: str, number: float, text: str) -> None:
    assert said(parameter, number, SHOWN) == text
