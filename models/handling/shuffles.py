"""Permutations of whips, and p values counted over them: exact for few whips, drawn for more."""

from collections.abc import Iterator
from functools import lru_cache
from itertools import permutations
from typing import Final

import numpy as np
import numpy.typing as npt

from plaitlog.models.handling.ranks import Array, Index

EXACT_UP_TO: Final = 8
"""So many whips have 40,320 permutations, which are all gone through."""
TOLERANCE: Final = 1e-10
"""Two rank correlations closer than this are equal but for rounding."""
_AT_ONCE: Final = 500_000


def shuffles(n: int, draws: int, seed: int) -> Iterator[Index]:
    """Permutations of n whips in chunks (some, n): all of them up to ``EXACT_UP_TO``, else ``draws``.

    Draws depend on n and the seed alone, so that a p value does not depend on what else is asked.
    """
    orders = _orders(n, draws, seed)
    step = max(1, _AT_ONCE // n)
    for start in range(0, len(orders), step):
        yield orders[start : start + step].astype(np.intp)


@lru_cache(maxsize=1)
def _orders(n: int, draws: int, seed: int) -> npt.NDArray[np.int16]:
    if n <= EXACT_UP_TO:
        return np.array(list(permutations(range(n))), dtype=np.int16)
    rows = np.broadcast_to(np.arange(n, dtype=np.int16), (draws, n))
    return np.random.default_rng([seed, n]).permuted(rows, axis=1)


def shuffled_p(reached: npt.NDArray[np.intp], n: int, draws: int) -> Array:
    """Two-sided p from how many permutations reached what was observed.

    All of them: their share, which counts the observed order itself. Drawn: (1 + reached) / (1 + draws)
    (Phipson & Smyth 2010); neither can be 0.
    """
    if n <= EXACT_UP_TO:
        return np.asarray(reached / len(_orders(n, draws, 0)), dtype=np.float64)
    return np.asarray((1 + reached) / (1 + draws), dtype=np.float64)


def smallest_p(n: int, draws: int) -> float:
    """The smallest two-sided p that n whips without ties can show."""
    return 2 / float(np.prod(np.arange(1, n + 1))) if n <= EXACT_UP_TO else 1 / (1 + draws)
