"""Strands of several cords in one layer: as near to their shares as pairs allow, and never one more."""

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.planning.asked import AskedLayer
from plaitlog.models.planning.shares import CordShare, split
from plaitlog.models.whip import Layer, LayerCord, Place, Step, StrandSchedule, exactly
from tests.planning.by_geometry import THICK, THIN

SHARES = st.lists(st.integers(1, 20), min_size=1, max_size=3)


@given(SHARES, st.sampled_from([1, 2]))
def test_no_cord_gains_while_the_layer_thins(shares: list[int], step: int) -> None:
    found = [split(count, shares, step) for count in range(24, -1, -step)]
    assert [sum(one) for one in found] == list(range(24, -1, -step))
    for more, fewer in pairwise(found):
        assert all(was - now in (0, step) for was, now in zip(more, fewer, strict=True))


@given(SHARES, st.integers(0, 12))
def test_it_is_the_nearest_of_all_splits(shares: list[int], pairs: int) -> None:
    """Least sum of squares of what each has beyond its quota, per share: what the highest quotients give."""
    whole = sum(shares)

    def off(found: tuple[int, ...]) -> float:
        quotas = [share * 2 * pairs / whole for share in shares]
        return sum((n - quota) ** 2 / share for n, quota, share in zip(found, quotas, shares, strict=True))

    every = [
        tuple(2 * n for n in one)
        for one in product(range(pairs + 1), repeat=len(shares))
        if sum(one) == pairs
    ]
    assert off(split(2 * pairs, shares, 2)) == pytest.approx(min(map(off, every)), abs=1e-9)


@given(SHARES)
def test_a_layer_begins_with_its_shares_where_they_make_up_its_count(shares: list[int]) -> None:
    assert split(2 * sum(shares), [2 * share for share in shares], 2) == tuple(2 * x for x in shares)


def test_eight_of_one_and_four_of_another() -> None:
    assert [split(n, [8, 4], 2) for n in (12, 10, 8, 6, 4)] == [(8, 4), (6, 4), (6, 2), (4, 2), (2, 2)]


def test_what_is_plaited_already_says_what_is_left_to_drop() -> None:
    """On the bench it has 7 of one and 5 of the other; only single strands can be told from that."""
    steps = (Step(Place(0, 0), (exactly(8), exactly(6))), Step(Place(300, 300), (exactly(7), exactly(5))))
    begun = Layer(
        role="overlay", cords=(LayerCord(THIN.name), LayerCord(THICK.name)), schedule=StrandSchedule(steps)
    )
    layer = AskedLayer(
        role="overlay", cord=THIN, mixed=(CordShare(THIN, 8), CordShare(THICK, 6)), start=12, begun=begun,
        begun_to_mm=400.0,
    )  # fmt: skip
    assert layer.split(12) == (7, 5)
    assert layer.split(10) in ((6, 4), (7, 3), (5, 5))
    with pytest.raises(ValueError, match="first cord"):
        AskedLayer(role="overlay", cord=THICK, mixed=layer.mixed)
