"""What to aim for: where the recorded whips that rated well lie, how sure that is, which are near a plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from plaitlog.models.handling.associations import HEADLINE
from plaitlog.models.handling.columns import columns_of
from plaitlog.models.handling.study import Array, Study

FEWEST: Final = 9
"""Rated whips of which thirds can be told: three in each (own choice)."""
DRAWS: Final = 2000
AT_ONCE: Final = 100
STANDS_OUT: Final = 0.05
"""How often chance may let some third of some parameter stand out as much (common practice in statistics)."""


@dataclass(frozen=True, slots=True)
class Region:
    """The third of the whips that rated best by one parameter, from ``low`` to ``high`` of it.

    p : how often ratings shuffled among the whips let any third of any of the parameters asked about stand
    out as much; never 0. rating : its mean rating, on 1 to 10; rest : that of the others.
    """

    parameter: str
    low: float
    high: float
    p: float
    rating: float
    rest: float
    n: int

    @property
    def stands_out(self) -> bool:
        return self.p <= STANDS_OUT


@dataclass(frozen=True, slots=True, eq=False)
class _Third:
    """A region before its p. rows : the whips that have parameter and rating; members : (n, 3) of thirds."""

    region: Region
    rows: "np.ndarray"
    members: Array


@dataclass(frozen=True, slots=True)
class Near:
    """A recorded whip near to another: apart, the root mean square of distances, in spreads."""

    label: str
    apart: float
    rating: float


def regions(
    study: Study, quality: str, parameters: Sequence[str] = HEADLINE, *, seed: int = 0
) -> tuple[Region, ...]:
    """The best third by each parameter, the surest first; none where it is known of fewer than nine whips."""
    found = [one for name in parameters if (one := _region(study, quality, name)) is not None]
    if not found:
        return ()
    y = study.ratings[quality]
    seen = np.array([_apart(y[one.rows][None], one.members).max() for one in found])
    # Shuffled in the order of labels, so that p does not depend on the order in which whips are recorded.
    order = np.argsort(np.array(study.labels), kind="stable")
    rated = order[np.isfinite(y[order])]
    chance = np.random.default_rng(seed)
    as_much = np.zeros(len(found))
    for _ in range(0, DRAWS, AT_ONCE):
        shuffled = np.full((AT_ONCE, len(y)), np.nan)
        shuffled[:, rated] = chance.permuted(np.tile(y[rated], (AT_ONCE, 1)), axis=1)
        most = np.max([_apart(shuffled[:, one.rows], one.members).max(axis=1) for one in found], axis=0)
        as_much += (most[:, None] >= seen - 1e-12).sum(axis=0)
    told = [
        replace(one.region, p=float((1 + k) / (1 + DRAWS))) for one, k in zip(found, as_much, strict=True)
    ]
    return tuple(sorted(told, key=lambda one: one.p))


def nearest(
    study: Study,
    quality: str,
    values: Mapping[str, float],
    parameters: Sequence[str] = HEADLINE,
    *,
    most: int = 5,
    without: str | None = None,
) -> tuple[Near, ...]:
    """The rated whips that are most like one with these values, each parameter counting the same.

    Compared by the parameters that both have; a whip that has fewer than half of those asked about is left
    out. without : the label of one that is left out, the whip itself.
    """
    rows = np.flatnonzero(np.isfinite(study.levels[quality]))
    asked = [name for name in parameters if np.isfinite(values.get(name, np.nan))]
    columns = columns_of(study, rows, asked, beside=False)
    if not columns.names:
        return ()
    has = np.column_stack([np.isfinite(study.parameters[name][rows]) for name in columns.names])
    enough = has.sum(axis=1) >= len(columns.names) / 2
    rows, has, X = rows[enough], has[enough], columns.X[enough]
    apart = np.sqrt(((X - columns.row(values)) ** 2 * has).sum(axis=1) / has.sum(axis=1))
    found = [
        Near(study.labels[k], float(far), float(study.levels[quality][k]))
        for k, far in zip(rows.tolist(), apart, strict=True)
        if study.labels[k] != without
    ]
    return tuple(sorted(found, key=lambda one: (one.apart, one.label))[:most])


def _region(study: Study, quality: str, name: str) -> _Third | None:
    """The best third by one parameter; None where there are no thirds."""
    rows = np.flatnonzero(np.isfinite(study.parameters[name]) & np.isfinite(study.ratings[quality]))
    x, y = study.parameters[name][rows], study.ratings[quality][rows]
    if len(rows) < FEWEST or np.ptp(x) == 0:
        return None
    thirds = np.searchsorted(np.quantile(x, [1 / 3, 2 / 3]), x, side="left")
    members = (thirds[:, None] == np.arange(3)).astype(np.float64)
    if not members.any(axis=0).all():
        return None
    best = int(np.argmax(_apart(y[None], members)[0]))
    inside, level = thirds == best, study.levels[quality][rows]
    # Whips that were only compared with others have a rating, and no number of their own.
    known = np.isfinite(level)
    if not (known & inside).any() or not (known & ~inside).any():
        return None
    region = Region(
        parameter=name,
        low=float(x[inside].min()),
        high=float(x[inside].max()),
        p=1.0,
        rating=float(level[known & inside].mean()),
        rest=float(level[known & ~inside].mean()),
        n=len(rows),
    )
    return _Third(region, rows, members)


def _apart(y: Array, members: Array) -> Array:
    """(m, 3): for ratings y (m, n) the mean of each third less that of the rest, in its standard errors."""
    n, sizes = y.shape[1], members.sum(axis=0)
    sums = y @ members
    found: Array = (sums / sizes - (y.sum(axis=1, keepdims=True) - sums) / (n - sizes)) / np.sqrt(
        1 / sizes + 1 / (n - sizes)
    )
    spread = y.std(axis=1, ddof=1, keepdims=True)
    np.divide(found, spread, out=found, where=spread > 0)
    return found
