"""Regions to aim for and the nearest whips: planted regions found, none where there is none."""

from dataclasses import replace

import numpy as np
import pytest

from plaitlog.models.handling.aim import nearest, regions
from plaitlog.models.handling.associations import HEADLINE
from plaitlog.models.handling.study import Study
from tests.handling.test_joint import workshop


def humped(n: int, seed: int) -> Study:
    """Volley is best where the middle share is 10, and falls off on both sides."""
    study = workshop(n, seed, 0.0)
    rng = np.random.default_rng([seed, 1])
    away = (study.parameters["middle_share"] - 10) / 2
    level = np.clip(np.round(8 - 1.5 * away**2 + 0.7 * rng.standard_normal(n)), 1, 10)
    return replace(study, ratings={"volley": level - level.mean()}, levels={"volley": level})


def turned(study: Study, order: "np.ndarray") -> Study:
    def of(columns: dict[str, "np.ndarray"]) -> dict[str, "np.ndarray"]:
        return {name: column[order] for name, column in columns.items()}

    return Study(
        labels=tuple(study.labels[k] for k in order),
        parameters=of(dict(study.parameters)),
        parameter_sds=of(dict(study.parameter_sds)),
        ratings=of(dict(study.ratings)),
        levels=of(dict(study.levels)),
        numbers=of(dict(study.numbers)),
        groups=study.groups,
    )


def test_where_nothing_goes_with_ratings_seldom_does_any_region_stand_out() -> None:
    told = [any(one.stands_out for one in regions(workshop(24, seed, 0.0), "volley")) for seed in range(60)]
    assert sum(told) <= 7


def test_a_best_place_in_the_middle_is_found_and_holds_the_planted_one() -> None:
    found = [regions(humped(60, seed), "volley")[0] for seed in range(20)]
    assert sum(one.parameter == "middle_share" and one.stands_out for one in found) >= 18
    assert sum(one.low <= 10 <= one.high for one in found) >= 18


def test_p_is_exact_in_the_one_case_that_is_counted() -> None:
    # Nine whips, the three best ratings all at the greatest parameter: of 84 choices of three whips for the
    # three high ratings, three are a whole third.
    level = np.array([5.0] * 6 + [9.0] * 3)
    study = replace(
        workshop(9, 0, 0.0),
        parameters={"point_mm": np.arange(9.0)},
        parameter_sds={"point_mm": np.zeros(9)},
        ratings={"volley": level - level.mean()},
        levels={"volley": level},
    )
    (found,) = regions(study, "volley", ["point_mm"])
    assert (found.low, found.high, found.rating, found.rest) == (6, 8, 9, 5)
    assert found.p == pytest.approx(3 / 84, abs=0.013)


def test_order_of_whips_and_scale_of_parameters_do_not_matter() -> None:
    study = workshop(30, 2, 0.7)
    other = turned(study, np.random.default_rng(0).permutation(30))
    wider = replace(study, parameters={name: 25.4 * column for name, column in study.parameters.items()})
    assert regions(other, "volley") == regions(study, "volley")
    assert [one.p for one in regions(wider, "volley")] == [one.p for one in regions(study, "volley")]


def test_fewer_than_nine_whips_one_rating_or_one_value_have_no_region() -> None:
    assert regions(workshop(8, 0, 0.0), "volley") == ()
    study = workshop(20, 0, 0.0)
    flat = replace(study, parameters={name: np.full(20, 3.0) for name in HEADLINE})
    assert regions(flat, "volley") == ()
    same = replace(study, ratings={"volley": np.zeros(20)}, levels={"volley": np.full(20, 7.0)})
    assert not any(one.stands_out for one in regions(same, "volley"))


def test_whips_that_were_only_compared_count_but_have_no_number() -> None:
    study = workshop(30, 2, 0.7)
    level = study.levels["volley"].copy()
    level[::3] = np.nan
    found = regions(replace(study, levels={"volley": level}), "volley")
    assert [(one.parameter, one.p, one.n) for one in found] == [
        (one.parameter, one.p, one.n) for one in regions(study, "volley")
    ]
    assert all(np.isfinite([one.rating, one.rest]).all() for one in found)
    none = replace(study, levels={"volley": np.full(30, np.nan)})
    assert regions(none, "volley") == ()


def test_the_nearest_whip_to_a_recorded_one_is_itself_and_distances_are_in_spreads() -> None:
    study = workshop(25, 1, 0.5)
    values = {name: float(study.parameters[name][7]) for name in HEADLINE}
    found = nearest(study, "volley", values)
    assert found[0].label == study.labels[7]
    assert found[0].apart == pytest.approx(0.0)
    assert found[0].rating == study.levels["volley"][7]
    assert [one.apart for one in found] == sorted(one.apart for one in found)
    assert study.labels[7] not in {
        one.label for one in nearest(study, "volley", values, without=study.labels[7])
    }
    spread = float(np.std(study.parameters["point_mm"], ddof=1))
    (one,) = nearest(study, "volley", {"point_mm": values["point_mm"] + spread / 1e3}, ["point_mm"], most=1)
    assert one.apart == pytest.approx(1e-3, abs=1e-3)


def test_a_whip_that_lacks_a_parameter_is_compared_by_what_it_has() -> None:
    study = workshop(20, 4, 0.0)
    point = study.parameters["point_mm"].copy()
    point[0] = np.nan
    thick = study.parameters["thick_end_mm"].copy()
    thick[0] = float(np.max(thick)) + 20
    study = replace(study, parameters=dict(study.parameters) | {"point_mm": point, "thick_end_mm": thick})
    plan = {"point_mm": float(np.nanmedian(point)), "thick_end_mm": float(np.median(thick))}
    asked = ["point_mm", "thick_end_mm"]
    found = {one.label: one.apart for one in nearest(study, "volley", plan, asked, most=20)}
    spread = float(np.std(thick, ddof=1))
    assert found[study.labels[0]] == pytest.approx((thick[0] - np.median(thick)) / spread)


def test_a_plan_of_which_nothing_is_known_is_near_to_none() -> None:
    study = workshop(20, 4, 0.0)
    assert nearest(study, "volley", {}) == ()
    assert nearest(study, "volley", {"point_mm": float("nan")}) == ()
