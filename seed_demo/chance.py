"""Chance that can be repeated: one stream of numbers per subject, the same on every machine.

Each subject (a cord, a whip, a rating) draws from a stream of its own, so that adding a whip leaves the
others as they are. Normal deviates come from the inverse distribution, which no Python version changes.
"""

import random
from collections.abc import Sequence
from statistics import NormalDist
from typing import TypeVar

Item = TypeVar("Item")
_STANDARD = NormalDist()


class Chance:
    """The stream of one subject in one workshop."""

    def __init__(self, seed: int, *subject: object) -> None:
        self._uniform = random.Random("/".join(map(str, (seed, *subject)))).random

    def normal(self, sd: float = 1.0, mean: float = 0.0) -> float:
        return mean + sd * _STANDARD.inv_cdf(min(max(self._uniform(), 1e-9), 1 - 1e-9))

    def between(self, low: float, high: float) -> float:
        return low + (high - low) * self._uniform()

    def whole(self, low: int, high: int) -> int:
        """A whole number from low to high, both included."""
        return low + int(self._uniform() * (high - low + 1))

    def happens(self, probability: float) -> bool:
        return self._uniform() < probability

    def one_of(self, items: Sequence[Item]) -> Item:
        return items[int(self._uniform() * len(items))]
