"""Small facts of the nouns."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.models.errors import Finding, RecordError
from plaitlog.models.whip import Place, Reading, Span, Whip, exactly, pattern_sum

spans = st.tuples(st.integers(0, 40), st.integers(0, 40)).map(lambda pair: Span(min(pair), max(pair)))


@pytest.mark.parametrize(
    ("pattern", "passed"),
    [("u2o2u2o2", 8), ("o4u4", 8), ("u3o3", 6), ("u1o2", 3), ("u12", 12), ("u0o2", None), ("2u2o", None),
     ("", None), ("u2o", None), ("u2 o2", None)],
)  # fmt: skip
def test_a_pattern_passes_the_strands_of_the_other_direction(pattern: str, passed: int | None) -> None:
    assert pattern_sum(pattern) == passed


def test_a_girth_is_read_at_the_middle_of_the_tape() -> None:
    assert Reading(at_mm=0, girth_mm=31.415926535897932, tape_mm=0).size_mm == pytest.approx(10)
    assert Reading(at_mm=0, girth_mm=31.415926535897932, tape_mm=0.3).size_mm == pytest.approx(9.7)
    assert Reading(at_mm=0, girth_mm=31.415926535897932).size_mm == pytest.approx(9.8)
    assert Reading(at_mm=0, diameter_mm=12.3).method == "caliper"


@given(spans, spans)
def test_spans_hold_what_either_number_can_be(one: Span, other: Span) -> None:
    total = one.plus(other)
    assert (total.low, total.high) == (one.low + other.low, one.high + other.high)
    hull = one.hull(other)
    assert hull.low <= min(one.low, other.low)
    assert hull.high >= max(one.high, other.high)
    assert one.exact == (one.variance == 0)


def test_the_point_in_the_datum_of_the_whip() -> None:
    assert Whip(label="1", thong_length_mm=1830).point_mm == 1830
    assert Whip(label="1", thong_length_mm=1830, datum="butt").point_mm is None
    assert Whip(label="1", thong_length_mm=1830, datum="butt", handle_length_mm=200).point_mm == 2030
    assert Whip(label="1").point_mm is None


@pytest.mark.parametrize(
    ("later", "earlier", "follows"),
    [
        (Place(300, 300), Place(200, 200), True),
        (Place(200, 200), Place(200, 200), False),
        (Place(200, 200), Place(300, 300), False),
        (Place(275, 325, "about"), Place(290, 290), True),
        (Place(275, 325, "about"), Place(310, 310), False),
        (Place(700, 860, "between"), Place(700, 860, "between"), True),
        (Place(100, 900, "not noted"), Place(500, 500), True),
        (Place(100, 400, "not noted"), Place(500, 500), False),
    ],
)
def test_which_place_can_come_after_which(later: Place, earlier: Place, follows: bool) -> None:
    assert later.follows(earlier) is follows


def test_a_finding_says_where_from_the_outside_in() -> None:
    finding = Finding("count", "-1 is no number of strands", "give 0 or more", "strands 2").at("layers 3")
    assert str(finding) == "layers 3, strands 2: -1 is no number of strands; give 0 or more"


def test_a_refused_record_carries_all_its_refusals() -> None:
    first, second = Finding("a", "one"), Finding("b", "two")
    error = RecordError(first, second)
    assert (error.finding, error.findings) == (first, (first, second))
    assert exactly(3) == Span(3, 3)
