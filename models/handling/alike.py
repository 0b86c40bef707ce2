"""Parameters so closely correlated with each other that they count, and are shown, as one."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from plaitlog.models.handling.ranks import Array, spearman

FEWEST: Final = 5
"""Pairs without which no correlation is told (own choice)."""
FEWEST_ALIKE: Final = 10
"""Pairs below which 0.9 comes about by chance too often (1 in 60 at five, 1 in 1,300 at ten)."""
ALIKE: Final = 0.9
"""Rank correlation, up or down, above which two parameters count as one (own choice)."""


def alike(parameters: Mapping[str, Array], names: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """The names in groups; each joins the first group with all of whose members it is correlated above 0.9.

    Correlated over whips that have both, of which there have to be ten. The first member names the group.
    """
    groups: list[list[str]] = []
    for name in names:
        for group in groups:
            if all(_alike(parameters[name], parameters[member]) for member in group):
                group.append(name)
                break
        else:
            groups.append([name])
    return tuple(map(tuple, groups))


def _alike(x: Array, y: Array) -> bool:
    both = np.isfinite(x) & np.isfinite(y)
    return bool(both.sum() >= FEWEST_ALIKE and abs(spearman(x[both], y[both])) > ALIKE)
