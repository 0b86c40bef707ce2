"""Hours of work in words: the figures, and whose whips they rest on."""

import pytest

from plaitlog.models.calibration.hours import ExpectedHours
from plaitlog.models.calibration.ratios import Expectation
from plaitlog.service.usecases.working_hours import hours_in_words


@pytest.mark.parametrize(
    ("whips", "of_maker", "maker", "words"),
    [
        (0, 0, "Orrin", "a guess: no hours are recorded"),
        (14, 14, "Orrin", "from 14 whips of Orrin"),
        (1, 1, None, "from 1 whip"),
        (20, 6, "Orrin", "from 20 whips, 6 of them of Orrin"),
        (20, 6, None, "from 20 whips, 6 of them without a maker"),
        (3, 0, "Orrin", "from 3 whips of other hands"),
    ],
)
def test_it_says_whose_whips_it_rests_on(whips: int, of_maker: int, maker: str | None, words: str) -> None:
    found = ExpectedHours(Expectation(9.2, 6.6, 12.4), whips, of_maker)
    assert hours_in_words(found, maker) == f"About 9 hours of work (90 %: 6.5 to 12), {words}"
