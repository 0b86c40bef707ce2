"""What else could explain a rating: skill that grows with build number, length, type, weight, maker, wear."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.stats import rankdata

from plaitlog.models.handling.ranks import Array
from plaitlog.models.handling.study import Study

PRIORITY: Final = ("build", "length", "type", "weight", "maker", "hours", "fall", "cracker")
"""Which comes first where whips are few, by how a name begins (own choice: skill first, since every maker's
does grow); others follow by name."""
NOTED: Final = 0.8
"""Used where it is noted for at least this share of the whips (own choice)."""
PER_EXPLANATION: Final = 5
"""Whips for each column accounted for, at least (own choice)."""
SMALLEST_GROUP: Final = 3
"""Groups of fewer whips are thrown together (own choice)."""
HARDLY_VARIES: Final = "it hardly varies"
SIZE_AND_MASS: Final = (
    "thick_end", "point_mm", "weight", "mass_", "inertia", "gyration", "half_mass", "balance_fraction",
    "wave_speed", "handle_diameter",
)  # fmt: skip
"""Sizes and masses, by how a name begins: a weight is made of them and explains nothing of them."""


@dataclass(frozen=True, slots=True, eq=False)
class Explanations:
    """columns : by name, each (k, n), ranks or memberships. left_out : by name, why it is not used."""

    columns: Mapping[str, Array]
    left_out: Mapping[str, str]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self.columns)

    @property
    def all(self) -> Array:
        """(k, n) of all names; k may be 0 only where there is no name."""
        return np.vstack(list(self.columns.values()))


def explained_by_weight(parameter: str) -> bool:
    """Whether a whip's weight could explain a parameter, rather than be made of it."""
    return not parameter.startswith(SIZE_AND_MASS)


def explanations(study: Study, rows: npt.NDArray[np.bool_], weight: bool) -> Explanations:
    """What to account for among the whips ``rows`` (n,): what varies and is noted, in order of priority.

    No more than one column for five whips. A number counts by its rank, the middle rank where it is not
    noted; a group by membership, those not noted making one of their own. weight : whether to use it.
    """
    n = int(rows.sum())
    columns: dict[str, Array] = {}
    left_out: dict[str, str] = {}
    room = n // PER_EXPLANATION
    for name in sorted([*study.numbers, *study.groups], key=_priority):
        if name.startswith("weight") and not weight:
            continue
        known, found = _columns(study, name, rows)
        if known < NOTED * n:
            left_out[name] = f"noted for {known} of {n} whips only"
        elif len(found) == 0:
            left_out[name] = HARDLY_VARIES
        elif len(found) > room:
            left_out[name] = f"{n} whips are too few to account for it as well"
        else:
            columns[name] = found
            room -= len(found)
    return Explanations(columns, left_out)


def _priority(name: str) -> tuple[int, str]:
    places: Iterator[int] = (k for k, start in enumerate(PRIORITY) if name.startswith(start))
    return next(places, len(PRIORITY)), name


def _columns(study: Study, name: str, rows: npt.NDArray[np.bool_]) -> tuple[int, Array]:
    """For how many whips it is known, and its columns (k, n); k is 0 where it does not vary."""
    if name in study.numbers:
        column = study.numbers[name][rows]
        known = np.isfinite(column)
        ranks = np.full((1, len(column)), (known.sum() + 1) / 2)
        ranks[0, known] = rankdata(column[known])
        return int(known.sum()), ranks if np.ptp(ranks) > 0 else ranks[:0]
    words = [word for word, here in zip(study.groups[name], rows, strict=True) if here]
    sizes = Counter(words)
    kept = [str(word) if word is not None and sizes[word] >= SMALLEST_GROUP else None for word in words]
    levels = sorted({word for word in kept if word is not None})
    if None not in kept:
        levels = levels[1:]
    members = np.array([[word == level for word in kept] for level in levels], dtype=np.float64)
    return sum(word is not None for word in words), members.reshape(len(levels), len(words))
