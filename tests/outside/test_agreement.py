"""Intraclass correlations: a published table, and intervals that hold as often as they say."""

import numpy as np
import pytest

from plaitlog.models.handling.agreement import agreement, intraclass

# Six targets, four judges: Shrout & Fleiss 1979, Psychol. Bull. 86, 420-428, table 2 (from memory).
TARGETS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]


def test_six_targets_and_four_judges() -> None:
    """The six coefficients of table 4 there, from memory, to the two places they are printed with."""
    found = intraclass(TARGETS)
    assert [found.icc_1_1, found.icc_2_1, found.icc_3_1] == pytest.approx([0.17, 0.29, 0.71], abs=0.005)
    assert [found.icc_1_k, found.icc_2_k, found.icc_3_k] == pytest.approx([0.44, 0.62, 0.91], abs=0.005)


def test_a_full_table_has_the_one_way_coefficient_and_its_interval() -> None:
    """The interval by the F of 5 and 18 degrees of freedom: 1.795 (McGraw & Wong 1996, from memory)."""
    found = agreement(TARGETS)
    assert found is not None
    assert found.value == pytest.approx(intraclass(TARGETS).icc_1_1, abs=1e-12)
    # The tabulated quantiles 3.3820 of F(5, 18) and 6.3618 of F(18, 5) at 0.975, from memory.
    ratio = 56.2083 / 5 / (112.75 / 18)
    assert ratio == pytest.approx(1.795, abs=5e-4)
    low, high = ratio / 3.3820, ratio * 6.3618
    assert found.low_95 == pytest.approx((low - 1) / (low + 3), abs=1e-3)
    assert found.high_95 == pytest.approx((high - 1) / (high + 3), abs=1e-3)


@pytest.mark.parametrize("sizes", [(3,) * 12, (2, 2, 2, 2, 3, 3, 3, 4, 4, 2, 2, 3, 3, 2, 4)])
@pytest.mark.parametrize("truth", [0.0, 0.4, 0.8])
def test_the_interval_holds_the_truth_as_often_as_it_says(sizes: tuple[int, ...], truth: float) -> None:
    rng = np.random.default_rng(27)
    held, runs = 0, 800
    for _ in range(runs):
        table = [truth**0.5 * rng.normal() + (1 - truth) ** 0.5 * rng.normal(size=raters) for raters in sizes]
        found = agreement([one.tolist() for one in table])
        assert found is not None
        held += found.low_95 <= truth <= found.high_95
    # Three standard errors of a share of 800 runs are 2.3 points; F with n0 is close, not exact.
    assert held / runs == pytest.approx(0.95, abs=0.025)


def test_what_tells_nothing_of_agreement_gives_none() -> None:
    assert agreement([[5.0, 6.0], [7.0, 7.0]]) is None, "two whips"
    assert agreement([[5.0], [6.0], [7.0], [8.0, 7.0]]) is None, "one rater each but for one whip"
    assert agreement([[5.0, 5.0]] * 4) is None, "all the same"
    full = agreement([[4.0, 4.0], [6.0, 6.0], [8.0, 8.0]])
    assert full is not None
    assert full.value == full.low_95 == 1.0


@pytest.mark.parametrize("table", [[[1.0, 2.0]], [[1.0], [2.0]], [[1.0, np.nan], [2.0, 3.0]], [1.0, 2.0]])
def test_a_table_with_gaps_or_too_small_is_refused(table: object) -> None:
    with pytest.raises(ValueError, match="full table"):
        intraclass(table)  # type: ignore[arg-type]
