"""Published values of rank correlation, of false discovery control and of a permutation test."""

import numpy as np
import pytest
from scipy.stats import kendalltau, permutation_test

from plaitlog.models.handling.discoveries import discovery_q
from plaitlog.models.handling.partial_ranks import PartialTest, p_values
from plaitlog.models.handling.ranks import spearman, standard_ranks


def test_rank_correlation_with_ties() -> None:
    """The example of ``scipy.stats.spearmanr``, which its makers hold against cor.test of R."""
    x, y = np.array([1.0, 2, 3, 4, 5]), np.array([5.0, 6, 7, 8, 7])
    assert spearman(x, y) == pytest.approx(0.8207826816681233, abs=1e-12)


def test_kendalls_coefficient_with_ties() -> None:
    """Kendall's tau-b is told nowhere; it stands here for whoever checks a rank correlation by scipy."""
    assert kendalltau([12, 2, 1, 12, 2], [1, 4, 7, 1, 0]).statistic == pytest.approx(
        -0.47140452079103173, abs=1e-12
    )


def test_nine_tins_of_tuna() -> None:
    """Hollander & Wolfe 1973, p. 187: lightness against a panel's score; 35,126 of 9! orders reach 0.6."""
    lightness = np.array([44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1])
    panel = np.array([2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8])
    assert spearman(lightness, panel) == pytest.approx(0.6, abs=1e-12)
    test = PartialTest(standard_ranks(lightness[None]), standard_ranks(panel[None]), np.empty((0, 9)))
    p = float(p_values([test], 40_000, 0)[0][0, 0])
    exact = 35_126 / 362_880
    assert abs(p - exact) < 4 * np.sqrt(exact * (1 - exact) / 40_000)


def test_fifteen_hypotheses_of_a_trial() -> None:
    """Benjamini & Hochberg 1995, J. R. Statist. Soc. B 57, 289-300, section 3: four are rejected at 0.05."""
    p = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
        0.6528, 0.7590, 1.0000,
    ]  # fmt: skip
    q = discovery_q(p)
    assert sum(one <= 0.05 for one in q) == 4
    assert q[:5] == pytest.approx([0.0015, 0.003, 0.0095, 0.035625, 0.0603], abs=1e-12)


def test_darwins_maize() -> None:
    """Fisher 1935, The Design of Experiments, section 21: differences of height in eighths of an inch.

    Nothing here flips signs; the test stands for whoever checks a paired comparison by scipy.
    """
    eighths = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48])
    assert eighths.sum() == 314
    found = permutation_test(
        (eighths, np.zeros(15, dtype=int)),
        lambda a, b, axis: (a - b).sum(axis=axis),
        permutation_type="samples",
        n_resamples=np.inf,
        vectorized=True,
    )
    assert found.pvalue == pytest.approx(1726 / 32768, abs=1e-12)
