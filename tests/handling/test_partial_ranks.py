"""p by permutation, alone and beside what else is known."""

from itertools import permutations

import numpy as np
import pytest
from scipy.stats import permutation_test, spearmanr

from plaitlog.models.handling import partial_ranks as module
from plaitlog.models.handling.partial_ranks import PartialTest, basis, p_values
from plaitlog.models.handling.rank_intervals import MANY
from plaitlog.models.handling.ranks import Array, spearman, standard_ranks
from plaitlog.models.handling.shuffles import shuffled_p


def alone(x: Array, y: Array) -> PartialTest:
    return PartialTest(standard_ranks(x[None]), standard_ranks(y[None]), np.empty((0, len(x))))


def p_of(test: PartialTest, draws: int = 10_000) -> float:
    return float(p_values([test], draws, 0)[0][0, 0])


@pytest.mark.parametrize("ties", [False, True])
def test_few_whips_have_the_exact_p_of_all_permutations(ties: bool) -> None:
    rng = np.random.default_rng(1)
    x, y = rng.normal(size=7), rng.normal(size=7)
    if ties:
        x, y = np.round(x), np.round(y)
    exact = permutation_test(
        (x,),
        lambda shuffled: np.abs(spearmanr(shuffled, y).statistic),
        permutation_type="pairings",
        n_resamples=np.inf,
        alternative="greater",
    )
    assert p_of(alone(x, y)) == pytest.approx(exact.pvalue, abs=1e-12)


def test_drawn_permutations_come_close_to_the_exact_p() -> None:
    rng = np.random.default_rng(4)
    x = np.arange(9.0)
    y = x + 3.5 * rng.normal(size=9)
    ranks = standard_ranks(np.vstack([x, y]))
    orders = np.array(list(permutations(range(9))))
    exact = float((np.abs(ranks[1][orders] @ ranks[0]) >= abs(spearman(x, y)) - 1e-10).mean())
    assert 0.001 < exact < 0.5
    assert abs(p_of(alone(x, y)) - exact) < 4 * np.sqrt(exact * (1 - exact) / 10_000)


def test_no_p_is_ever_0() -> None:
    for n in (6, 40, MANY + 1, 20_000):
        x = np.arange(float(n))
        assert 0 < p_of(alone(x, x), 100) <= 1 / 101 + 1e-15
    assert shuffled_p(np.array([0]), 40, 999)[0] == 1 / 1000


def test_p_of_many_whips_is_that_of_scipy() -> None:
    rng = np.random.default_rng(5)
    x = rng.normal(size=MANY + 100)
    y = np.round(0.08 * x + rng.normal(size=MANY + 100), 1)
    assert p_of(alone(x, y)) == pytest.approx(spearmanr(x, y).pvalue, rel=1e-9)


def test_the_closed_form_for_many_whips_is_where_draws_lead(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(9)
    others = rng.normal(size=(2, 300))
    x, y = standard_ranks(rng.normal(size=(2, 300)) + 0.5 * others[0])
    test = PartialTest(x[None], (0.16 * x + y)[None], basis(others))
    drawn = p_of(test, 20_000)
    monkeypatch.setattr(module, "MANY", 299)
    assert 0.002 < drawn < 0.2
    assert abs(p_of(test) - drawn) < 4 * np.sqrt(drawn / 20_000)


def by_regression(y: Array, x: Array, others: Array) -> float:
    """Partial correlation from t of an ordinary regression."""
    from statsmodels.regression.linear_model import OLS

    fit = OLS(y, np.column_stack([np.ones(len(y)), x, others.T])).fit()
    return float(fit.tvalues[1] / np.sqrt(fit.tvalues[1] ** 2 + fit.df_resid))


def test_partial_correlation_and_its_p_are_those_of_regressions_on_permuted_residuals() -> None:
    """Freedman & Lane 1983, step by step: permute residuals, add what was fitted, regress anew."""
    rng = np.random.default_rng(6)
    others = rng.permutation(6)[None].astype(float)
    x, y = standard_ranks(rng.normal(size=(2, 6)) + others[0])
    test = PartialTest(x[None], y[None], basis(others))
    observed = by_regression(y, x, others)
    assert test.observed[0, 0] == pytest.approx(observed, abs=1e-10)
    design = np.column_stack([np.ones(6), others.T])
    fitted = design @ np.linalg.lstsq(design, y)[0]
    reached = [
        by_regression(fitted + (y - fitted)[list(order)], x, others) for order in permutations(range(6))
    ]
    exact = np.mean(np.abs(reached) >= abs(observed) - 1e-9)
    assert 0.01 < exact < 0.9
    assert p_of(test) == pytest.approx(exact, abs=1e-12)


def test_what_is_wholly_accounted_for_has_nothing_left_to_correlate() -> None:
    rng = np.random.default_rng(7)
    x, y = standard_ranks(rng.normal(size=(2, 20)))
    assert not PartialTest(x[None], y[None], basis(x[None])).defined.any()
    assert PartialTest(x[None], y[None], basis(y[None] + rng.normal(size=20))).defined.all()
