"""The joint model against always saying the usual rating, on workshops whose truth is known."""

import time
from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.handling.associations import HEADLINE
from plaitlog.models.handling.joint import Joint, best_fit, comparable, fit_joint
from plaitlog.models.handling.study import Study


def workshop(n: int, seed: int, effect: float) -> Study:
    """Volley goes with the middle share (correlation ``effect``); nothing else goes with anything."""
    rng = np.random.default_rng(seed)
    X = rng.standard_normal((n, len(HEADLINE)))
    merit = effect * X[:, 2] + np.sqrt(1 - effect**2) * rng.standard_normal(n)
    level = np.clip(np.round(6 + 1.5 * merit), 1, 10)
    return Study(
        labels=tuple(f"whip {k:05d}" for k in range(n)),
        parameters={name: 10 + 2 * X[:, k] for k, name in enumerate(HEADLINE)},
        parameter_sds={name: np.zeros(n) for name in HEADLINE},
        ratings={"volley": level - level.mean()},
        levels={"volley": level},
        numbers={"build_number": rng.permutation(n) + 1.0},
        groups={"maker": ("Orrin",) * n},
    )


def fitted(study: Study) -> Joint:
    found = fit_joint(study, "volley")
    assert found is not None
    return found


@pytest.mark.parametrize("n", [12, 30])
def test_where_nothing_goes_with_ratings_it_is_seldom_better(n: int) -> None:
    better = sum(fitted(workshop(n, seed, 0.0)).better for seed in range(40))
    assert better <= 4


def test_where_one_parameter_decides_it_is_better_and_that_slope_stands_out() -> None:
    found = [fitted(workshop(40, seed, 0.85)) for seed in range(20)]
    assert sum(one.better for one in found) >= 17
    slopes = [one.slopes[HEADLINE.index("middle_share")] for one in found]
    assert {one.name for one in slopes} == {"middle_share"}
    assert sum(one.low_95 > 0 for one in slopes) >= 18


def test_intervals_cover_planted_slopes_where_the_shrinkage_is_chosen_by_the_whips() -> None:
    slopes, cuts = np.array([2.0, -1.0, 0, 0, 0, 0, 0]), np.array([-6.0, -4.0, -2.0, 0.0, 1.4, 3.6, 6.0])
    inside = []
    for seed in range(150):
        rng = np.random.default_rng(seed)
        X = rng.standard_normal((40, 7))
        model = best_fit(X, np.digitize(X @ slopes + rng.logistic(size=40), cuts) + 2.0)
        inside.append(np.abs(model.slopes - slopes) <= 1.96 * np.sqrt(np.diag(model.covariance)))
    assert 0.92 <= np.mean(inside) <= 0.975


def test_the_gain_is_the_difference_of_the_scores() -> None:
    found = fitted(workshop(30, 1, 0.6))
    assert found.n == 30
    assert found.gain == pytest.approx(found.usual_score - found.score)
    assert found.se > 0


def test_always_saying_the_usual_rating_scores_as_reckoned_by_hand() -> None:
    study = workshop(9, 0, 0.0)
    level = np.array([5.0, 5, 5, 7, 7, 7, 7, 7, 7])
    found = fitted(replace(study, levels={"volley": level}, ratings={"volley": level / 2}))
    # Of eight other whips: left out a 5, two 5 and six 7 and half a whip more of each; a 7, three and five.
    rated_5, rated_7 = 2 * (6.5 / 9) ** 2, 2 * (3.5 / 9) ** 2
    assert found.usual == 7
    assert found.usual_score == pytest.approx((3 * rated_5 + 6 * rated_7) / 9)


def test_order_of_whips_and_scale_of_parameters_do_not_matter() -> None:
    study = workshop(60, 2, 0.5)
    order = np.random.default_rng(1).permutation(60)
    turned = Study(
        labels=tuple(study.labels[k] for k in order),
        parameters={name: 25.4 * column[order] - 3 for name, column in study.parameters.items()},
        parameter_sds=study.parameter_sds,
        ratings={"volley": study.ratings["volley"][order]},
        levels={"volley": study.levels["volley"][order]},
        numbers={"build_number": study.numbers["build_number"][order]},
        groups=study.groups,
    )
    one, other = fitted(study), fitted(turned)
    assert other.gain == pytest.approx(one.gain, abs=1e-6)
    assert other.better == one.better
    assert [slope.value for slope in other.slopes] == pytest.approx(
        [slope.value for slope in one.slopes], abs=1e-5
    )


def test_skill_that_grows_with_the_build_number_is_not_taken_for_shape() -> None:
    mistaken = 0
    for seed in range(20):
        study = workshop(60, seed, 0.0)
        rng = np.random.default_rng(1000 + seed)
        skill = (study.numbers["build_number"] - 30.5) / 17.3
        drift = 0.7 * skill + 0.7 * rng.standard_normal(60)
        level = np.clip(np.round(6 + 1.4 * skill + 0.9 * rng.standard_normal(60)), 1, 10)
        study = replace(
            study,
            parameters=dict(study.parameters) | {"point_mm": drift},
            ratings={"volley": level},
            levels={"volley": level},
        )
        found = {slope.name: slope for slope in fitted(study).slopes}
        assert found["build_number"].low_95 > 0
        mistaken += found["point_mm"].low_95 > 0 or found["point_mm"].high_95 < 0
    assert mistaken <= 4


def test_half_of_a_column_missing_stands_at_the_middle_and_more_leaves_it_out() -> None:
    study = workshop(40, 3, 0.7)
    parameters = {name: column.copy() for name, column in study.parameters.items()}
    parameters["point_mm"][:20] = np.nan
    parameters["thick_end_mm"][:21] = np.nan
    found = fitted(replace(study, parameters=parameters))
    assert "point_mm" in found.columns.names
    assert "thick_end_mm" not in found.columns.names
    assert np.isfinite(found.columns.X).all()
    assert found.columns.X[:20, found.columns.names.index("point_mm")] == pytest.approx(0.0)


def test_from_three_whips_one_rating_or_parameters_that_do_not_vary_nothing_is_fitted() -> None:
    assert fit_joint(workshop(3, 0, 0.0), "volley") is None
    study = workshop(20, 0, 0.0)
    for level in (7.0, np.nan):
        same = {"volley": np.full(20, level)}
        assert fit_joint(replace(study, levels=same, ratings=same), "volley") is None
    flat = {name: np.full(20, 3.0) for name in HEADLINE}
    assert fit_joint(replace(study, parameters=flat, numbers={}), "volley") is None


def test_a_lenient_rater_and_whips_that_were_only_compared_are_brought_to_one_scale() -> None:
    study = workshop(30, 5, 0.5)
    true = study.levels["volley"]
    standard = (true - true.mean()) / true.std()
    level = true + np.where(np.arange(30) % 2 == 0, 1.0, -1.0)
    level[4] = np.nan
    found = comparable(replace(study, levels={"volley": level}, ratings={"volley": standard}), "volley")
    assert np.isfinite(found).all()
    assert np.abs(found - true).max() <= 1
    assert np.abs(found - true).mean() < 0.4
    alone = comparable(replace(study, ratings={"volley": standard}), "volley")
    assert alone.tolist() == true.tolist()


def test_what_a_maker_does_otherwise_is_not_taken_for_shape() -> None:
    mistaken = 0
    for seed in range(20):
        study = workshop(60, seed, 0.0)
        rng = np.random.default_rng(2000 + seed)
        tamsin = np.arange(60) % 2 == 1
        point = 5 + tamsin + 0.7 * rng.standard_normal(60)
        level = np.clip(np.round(5.5 + 2 * tamsin + rng.standard_normal(60)), 1, 10)
        study = replace(
            study,
            parameters=dict(study.parameters) | {"point_mm": point},
            ratings={"volley": level},
            levels={"volley": level},
            groups={"maker": tuple("Tamsin" if one else "Orrin" for one in tamsin)},
        )
        found = {slope.name: slope for slope in fitted(study).slopes}
        assert not any("Tamsin" in name for name in found)
        mistaken += found["point_mm"].low_95 > 0 or found["point_mm"].high_95 < 0
    assert mistaken <= 4


def test_two_hundred_whips_are_quick() -> None:
    study = workshop(200, 0, 0.5)
    began = time.process_time()
    fitted(study)
    assert time.process_time() - began < 2.0
