"""Plait patterns of the trade add up to half the count (common practice, no source)."""

import pytest

from plaitlog.models.notation import parse_schedule
from plaitlog.models.plausibility import check_whip
from plaitlog.models.whip import Layer, LayerCord, Whip, pattern_sum

USUAL = [
    (16, "u2o2u2o2"),
    (16, "o4u4"),
    (12, "o3u3"),
    (8, "o2u2"),
    (6, "o1u2"),
    (4, "o1u1"),
]


@pytest.mark.parametrize(("strands", "pattern"), USUAL)
def test_unders_and_overs_pass_half_the_strands(strands: int, pattern: str) -> None:
    assert pattern_sum(pattern) == strands / 2


@pytest.mark.parametrize(("strands", "pattern"), USUAL)
def test_a_usual_pattern_raises_no_finding_and_two_strands_fewer_does(strands: int, pattern: str) -> None:
    found = []
    for count in (strands, strands - 2):
        cord = (LayerCord("Ridge 4 mm"),)
        schedule = parse_schedule(f"in: {count} {pattern}; p", cords=cord).schedule
        whip = Whip(label="1", layers=(Layer(role="overlay", cords=cord, schedule=schedule),))
        found.append([finding.code for finding in check_whip(whip)])
    assert found == [[], ["pattern-sum"]]
