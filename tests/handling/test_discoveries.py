"""False discoveries over one family, beside statsmodels."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.handling.discoveries import discovery_q


@given(st.lists(st.floats(1e-6, 1), min_size=1, max_size=40))
def test_q_is_that_of_statsmodels_and_never_below_p(p: list[float]) -> None:
    from statsmodels.stats.multitest import multipletests

    q = discovery_q(p)
    assert q == pytest.approx(multipletests(p, method="fdr_bh")[1], rel=1e-12)
    assert all(one >= alone for one, alone in zip(q, p, strict=True))


def test_no_test_is_no_discovery() -> None:
    assert discovery_q([]) == []
