"""The three best whips beside the three worst."""

import numpy as np
import pytest

from plaitlog.models.handling.contrast import contrast
from plaitlog.models.handling.study import Array, Study


def study(rating: list[float], **parameters: list[float]) -> Study:
    columns: dict[str, Array] = {name: np.array(values, dtype=float) for name, values in parameters.items()}
    return Study(
        labels=tuple("abcdefghijkl"[: len(rating)]),
        parameters=columns,
        parameter_sds={name: 0 * column for name, column in columns.items()},
        ratings={"volley": np.array(rating, dtype=float)},
        levels={"volley": np.array(rating, dtype=float)},
        numbers={},
        groups={},
    )


NAN = float("nan")


def test_the_largest_difference_in_spreads_comes_first() -> None:
    """Worked by hand: point 4, 4, 4 against 7, 7, 7 over a standard deviation of sqrt(18 / 7)."""
    point = [4.0, 7, 4, 5.5, 7, 4, 7, 5.5]
    found = contrast(study([9, 1, 8, 5, 2, 7, 3, NAN], point_mm=point, middle_share=[1, 1, 1, 1, 1, 1, 0, 9]),
                     "volley", ["middle_share", "point_mm"])  # fmt: skip
    assert (found.rated, found.best, found.worst) == (7, ("a", "c", "f"), ("b", "e", "g"))
    first, second = found.differences
    assert (first.parameter, first.best, first.worst, first.known) == ("point_mm", 4, 7, 6)
    assert first.in_spreads == pytest.approx(-3 / np.sqrt(13.5 / 6))
    assert second.in_spreads == pytest.approx((1 / 3) / np.sqrt((6 / 7) / 6))
    assert not found.findings


def test_what_is_not_known_is_left_out_and_what_is_the_same_for_all_differs_in_nothing() -> None:
    rating = [6.0, 5, 4, 3, 2, 1]
    found = contrast(
        study(rating, a=[1, NAN, 2, 3, 4, NAN], b=[2] * 6, c=[NAN, NAN, NAN, 1, 2, 3]), "volley", "abc"
    )
    assert [(one.parameter, one.best, one.worst, one.known) for one in found.differences] == [
        ("a", 1.5, 3.5, 4)
    ]


def test_three_whips_show_one_beside_one() -> None:
    found = contrast(study([7, 5, 3], point_mm=[5, 6, 7]), "volley", ["point_mm"])
    assert (found.best, found.worst) == (("a",), ("c",))
    assert [finding.code for finding in found.findings] == ["few-rated"]


@pytest.mark.parametrize("rating", [[5.0, 5, 5, 5, 5, 5, 5], [4.0, NAN], [NAN, NAN]])
def test_with_no_better_and_worse_there_is_no_contrast(rating: list[float]) -> None:
    found = contrast(study(rating, point_mm=[*range(len(rating))]), "volley", ["point_mm"])
    assert (found.best, found.differences) == ((), ())
    assert [finding.code for finding in found.findings] == ["no-contrast"]


def test_ties_at_the_edge_are_told() -> None:
    found = contrast(study([9, 8, 7, 7, 3, 2, 1], point_mm=[1, 2, 3, 4, 5, 6, 7]), "volley", ["point_mm"])
    assert [(finding.code, finding.where) for finding in found.findings] == [("ties", "best")]
