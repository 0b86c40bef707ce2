"""The taper as a word: parallel, early, even or late, by where diameter is lost."""

from collections.abc import Mapping
from typing import Final, Literal

from plaitlog.models.handling.estimate import Estimate
from plaitlog.models.handling.profile import PARALLEL_BELOW
from plaitlog.models.taper import even_fullness

Word = Literal["parallel", "early", "even", "late"]
EVEN_FROM: Final = 0.45
"""Fullness from which a taper counts as even: a little below a straight line in diameter (own convention)."""
EVEN_BEYOND: Final = 0.03
"""How much fuller than evenly spaced drops a taper still counts as even (own convention)."""


def taper_word(parameters: Mapping[str, Estimate]) -> Word | None:
    """The word for a thong's taper; None where the parameters that it needs are not known."""
    if "taper_ratio" in parameters and parameters["taper_ratio"].value < PARALLEL_BELOW:
        return "parallel"
    return None if "fullness" not in parameters else _word(parameters, parameters["fullness"].value)


def other_words(parameters: Mapping[str, Estimate]) -> tuple[Word, ...]:
    """Words that the 90 % interval of the fullness reaches beside ``taper_word``."""
    if "fullness" not in parameters or taper_word(parameters) == "parallel":
        return ()
    fullness = parameters["fullness"]
    ends = (_word(parameters, fullness.low_90), _word(parameters, fullness.high_90))
    return tuple(word for word in dict.fromkeys(ends) if word != taper_word(parameters))


def _word(parameters: Mapping[str, Estimate], fullness: float) -> Word:
    even = even_fullness(parameters["thick_end_mm"].value, parameters["point_mm"].value)
    if fullness < EVEN_FROM:
        return "early"
    return "even" if fullness <= even + EVEN_BEYOND else "late"
