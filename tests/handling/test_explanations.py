"""What else could explain a rating: which of it is used, and which is not."""

import numpy as np
import pytest

from plaitlog.models.handling.explanations import explained_by_weight, explanations
from plaitlog.models.handling.study import Array, Study


def study(numbers: dict[str, Array], groups: dict[str, tuple[str | None, ...]], n: int) -> Study:
    return Study(
        labels=tuple(map(str, range(n))),
        parameters={},
        parameter_sds={},
        ratings={},
        levels={},
        numbers=numbers,
        groups=groups,
    )


def everyone(n: int) -> np.ndarray:
    return np.ones(n, dtype=bool)


def test_few_whips_are_held_against_what_comes_first() -> None:
    rng = np.random.default_rng(0)
    numbers = {
        name: rng.normal(size=10) for name in ("weight_g", "hours_of_use", "length_mm", "build_number")
    }
    found = explanations(study(numbers, {"maker": ("Orrin", "Tamsin") * 5}, 10), everyone(10), weight=True)
    assert found.names == ("build_number", "length_mm")
    assert set(found.left_out) == {"weight_g", "maker", "hours_of_use"}
    assert all("10 whips are too few" in why for why in found.left_out.values())


def test_no_more_than_one_column_for_five_whips_however_many_kinds_there_are() -> None:
    words = tuple("abcdefg"[k % 7] for k in range(28))
    numbers = {"build_number": np.arange(28.0)}
    found = explanations(study(numbers, {"type": words, "maker": words}, 28), everyone(28), weight=True)
    assert found.names == ("build_number",)
    wider = explanations(study(numbers, {"type": words}, 28), everyone(28), weight=True)
    assert "type" in wider.left_out


def test_what_is_seldom_noted_or_hardly_varies_is_not_used() -> None:
    hours = np.arange(20.0)
    hours[:9] = np.nan
    groups: dict[str, tuple[str | None, ...]] = {"type": ("stock whip",) * 20, "fall": ("cord", None) * 10}
    found = explanations(study({"hours_of_use": hours}, groups, 20), everyone(20), weight=True)
    assert found.names == ()
    assert found.left_out["hours_of_use"] == "noted for 11 of 20 whips only"
    assert found.left_out["fall"] == "noted for 10 of 20 whips only"
    assert found.left_out["type"] == "it hardly varies"


def test_a_number_counts_by_its_rank_and_by_the_middle_rank_where_it_is_not_noted() -> None:
    length = np.array([10.0, np.nan, 1000.0, 20.0, 30.0])
    found = explanations(study({"length_mm": length}, {}, 5), everyone(5), weight=True)
    assert found.columns["length_mm"].tolist() == [[1, 2.5, 4, 2, 3]]


def test_single_whips_of_a_kind_are_thrown_together() -> None:
    words = (*["bullwhip"] * 8, *["stock whip"] * 8, "snake whip", "signal whip", None, "bullwhip")
    found = explanations(study({}, {"type": words}, 20), everyone(20), weight=True)
    assert found.columns["type"].sum(axis=1).tolist() == [9, 8]


@pytest.mark.parametrize(
    ("parameter", "weight"),
    [
        ("thick_end_mm", False),
        ("point_mm", False),
        ("weight_per_length_g_per_m", False),
        ("inertia_per_mass_mm2", False),
        ("half_mass_fraction", False),
        ("middle_share", True),
        ("drop_spacing_trend", True),
    ],
)
def test_a_weight_explains_no_size_it_is_made_of(parameter: str, weight: bool) -> None:
    assert explained_by_weight(parameter) is weight
