"""A number with its uncertainty and how it is known."""

from dataclasses import dataclass, replace
from typing import Final, Literal, Self

Known = Literal["measured", "predicted", "recorded", "reckoned"]
"""By readings of the thong; by the fit, from the stack; noted by the maker; worked out from what is noted."""
Z90: Final = 1.6448536269514722
"""Standard normal quantile at 0.95: half the width of an equal-tailed 90 % interval."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """Value, standard deviation and equal-tailed 90 % interval, all in one unit; sd 0 where it is exact."""

    value: float
    sd: float
    low_90: float
    high_90: float
    known: Known = "measured"

    @classmethod
    def of(cls, value: float, sd: float, known: Known = "measured", width: float = Z90) -> Self:
        """With a symmetric interval, ``width`` standard deviations to either side."""
        return cls(value, sd, value - width * sd, value + width * sd, known)

    def as_known(self, known: Known) -> "Estimate":
        return replace(self, known=known)
