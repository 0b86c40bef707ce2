"""Taper parameters as columns of a model: in spreads from the middle of the recorded whips."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plaitlog.models.handling.study import Array, Study

KNOWN: Final = 0.5
"""A parameter known for less than this share of the whips is left out (own choice)."""
MAKER: Final = "maker "
"""What the column of a maker's name begins with."""
LEAST_OF_A_MAKER, MOST_MAKERS = 3, 10
"""Whips of a maker from which they have a column of their own, and how many makers may (own choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """(n, k) standardised columns by name, with the middle and the spread that each was taken by.

    What is not known of a whip stands at the middle, and so says nothing for or against it.
    """

    names: tuple[str, ...]
    X: Array
    middles: Array
    spreads: Array

    def row(self, values: Mapping[str, float]) -> Array:
        """(k,): another whip in the same columns; what it does not have stands at the middle."""
        found = [values.get(name, np.nan) for name in self.names]
        scaled = (np.array(found, dtype=np.float64) - self.middles) / self.spreads
        return np.nan_to_num(scaled, nan=0.0)


def columns_of(study: Study, rows: "np.ndarray", parameters: Sequence[str], *, beside: bool) -> Columns:
    """Columns of the whips ``rows`` (n,), of parameters that vary and are known of half of them.

    beside : also the build number, which stands for skill, where it varies, and makers other than the one of
    most whips, so that neither is taken for shape.
    """
    found: list[tuple[str, Array, float, float]] = []
    numbers = {name: study.parameters[name] for name in parameters}
    if beside:
        numbers |= {name: study.numbers[name] for name in ("build_number",) if name in study.numbers}
        numbers |= _makers(study, rows)
    for name, column in numbers.items():
        here = column[rows]
        known = np.isfinite(here)
        if known.sum() < max(KNOWN * len(here), 2) or np.ptp(here[known]) == 0:
            continue
        middle, spread = float(np.median(here[known])), float(np.std(here[known], ddof=1))
        found.append((name, np.where(known, (here - middle) / spread, 0.0), middle, spread))
    n = int(np.count_nonzero(rows)) if rows.dtype == bool else len(rows)
    return Columns(
        names=tuple(name for name, *_ in found),
        X=np.column_stack([column for _, column, _, _ in found]) if found else np.empty((n, 0)),
        middles=np.array([middle for _, _, middle, _ in found]),
        spreads=np.array([spread for _, _, _, spread in found]),
    )


def _makers(study: Study, rows: "np.ndarray") -> dict[str, Array]:
    """(n whips of the study,) for each maker 1 where they made the whip, else 0."""
    makers = study.groups.get("maker", (None,) * len(study.labels))
    counts = Counter(
        made for made, here in zip(makers, _chosen(rows, len(makers)), strict=True) if here and made
    )
    told = sorted((-count, made) for made, count in counts.items() if count >= LEAST_OF_A_MAKER)
    return {
        MAKER + made: np.array([float(other == made) for other in makers])
        for _, made in told[1 : 1 + MOST_MAKERS]
    }


def _chosen(rows: "np.ndarray", n: int) -> "np.ndarray":
    chosen = np.zeros(n, dtype=bool)
    chosen[rows] = True
    return chosen
