"""Which taper parameters go with which qualities: rank correlations, bends, and what may be claimed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from plaitlog.models.errors import Finding
from plaitlog.models.handling.alike import FEWEST, alike
from plaitlog.models.handling.association_findings import (
    common_findings,
    explained_finding,
    pair_findings,
)
from plaitlog.models.handling.discoveries import discovery_q
from plaitlog.models.handling.explanations import explained_by_weight, explanations
from plaitlog.models.handling.pairs import PairStatistics, pair_statistics
from plaitlog.models.handling.rank_intervals import MANY
from plaitlog.models.handling.study import Study

HEADLINE: Final = (
    "thick_end_mm",
    "point_mm",
    "middle_share",
    "weight_per_length_g_per_m",
    "half_mass_fraction",
    "drop_spacing_trend",
)
"""The few parameters named beforehand that the default question asks about."""
FALSE_DISCOVERIES: Final = 0.05
"""Share of claims that may be false (common practice in statistics)."""
Bend = Literal["best in the middle", "worst in the middle"]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Association:
    """One parameter (with those that count as one with it, ``alike``) against one quality, over n whips.

    rho : Spearman rank correlation, with its 95 % interval; p : two-sided; None where it cannot be told.
    partial_rho, partial_p : beside what else is noted, named in ``partial_on``.
    bend_p : of a rating bent in the ranks of the parameter, beside its trend and what else is noted; bend_at
    says at what value it turns, where it does so among the whips, and ``bend`` how.
    q, bend_q : false discovery rate at which the association, or the bend, would be claimed, over the whole
    family; q is of the greater of p and partial_p, since what something else explains is a false discovery
    too. claimed, bend_claimed : q is within the rate that was asked for.
    """

    parameter: str
    alike: tuple[str, ...] = ()
    quality: str
    n: int
    rho: float | None = None
    low_95: float | None = None
    high_95: float | None = None
    p: float | None = None
    q: float | None = None
    partial_rho: float | None = None
    partial_p: float | None = None
    partial_on: tuple[str, ...] = ()
    bend_rho: float | None = None
    bend_p: float | None = None
    bend_q: float | None = None
    bend: Bend | None = None
    bend_at: float | None = None
    claimed: bool = False
    bend_claimed: bool = False
    findings: tuple[Finding, ...] = ()

    @property
    def evidence_p(self) -> float:
        """The smaller of the p values of trend and bend, each beside what else is noted; 1 with neither."""
        return min(_trend_p(self), 1.0 if self.bend_p is None else self.bend_p)


@dataclass(frozen=True, slots=True, kw_only=True)
class Associations:
    """Everything that is printed together, which is one family of tests.

    family : how many tests it holds (trends and bends). closed_form : some pair had so many whips (above
    1,000) that its interval comes from each whip's influence and its p from Student's t instead of draws.
    """

    associations: tuple[Association, ...]
    family: int
    false_discoveries: float
    draws: int
    resamples: int
    seed: int
    closed_form: bool
    findings: tuple[Finding, ...]

    @property
    def claimed(self) -> tuple[Association, ...]:
        return tuple(one for one in self.associations if one.claimed or one.bend_claimed)

    def ranked(self, quality: str) -> tuple[Association, ...]:
        """Those of a quality, the strongest evidence first."""
        asked = [one for one in self.associations if one.quality == quality]
        return tuple(sorted(asked, key=lambda one: (one.evidence_p, -abs(one.rho or 0.0))))


def associate(
    study: Study,
    qualities: Sequence[str],
    parameters: Sequence[str] = HEADLINE,
    *,
    draws: int = 10_000,
    resamples: int = 2_000,
    false_discoveries: float = FALSE_DISCOVERIES,
    seed: int = 0,
    progress: Progress | None = None,
) -> Associations:
    """Every parameter against every quality, as one family.

    Parameters of the study that correlate above 0.9 with each other count as one. draws : permutations
    for p, where not all are gone through; resamples : for the bootstrap. Above 1,000 whips neither is drawn
    (``closed_form`` says so). The order of the whips does not matter, and what a pair shows but for q does
    not depend on what else is asked. progress : called with pairs done and all pairs. Raises KeyError for a
    name the study does not have.
    """
    order = np.argsort(np.array(study.labels), kind="stable")
    study = _ordered(study, order)
    groups = alike(study.parameters, parameters)
    pairs = [(group, quality) for group in groups for quality in qualities]
    found: dict[tuple[str, str], Association] = {}
    for block in _blocks(study, pairs):
        for one in _block_associations(study, block, draws, resamples, seed):
            found[one.parameter, one.quality] = one
            if progress:
                progress(len(found), len(pairs))
    asked = [found[group[0], quality] for group, quality in pairs]
    claimed, alone, family = _claimed(asked, false_discoveries)
    told = tuple(
        replace(one, findings=(*one.findings, *explained_finding(study, one, by_itself)))
        for one, by_itself in zip(claimed, alone, strict=True)
    )
    return Associations(
        associations=told,
        family=family,
        false_discoveries=false_discoveries,
        draws=draws,
        resamples=resamples,
        seed=seed,
        closed_form=any(one.n > MANY for one in told),
        findings=common_findings(study, told, family),
    )


@dataclass(frozen=True, eq=False)
class _Block:
    """Pairs over the same whips ``rows``, with the same things to account for."""

    rows: npt.NDArray[np.bool_]
    weight: bool
    pairs: list[tuple[tuple[str, ...], str]]


def _blocks(study: Study, pairs: list[tuple[tuple[str, ...], str]]) -> list[_Block]:
    """Pairs put together where they share whips; blocks of as many whips follow each other."""
    found: dict[tuple[bytes, bool], _Block] = {}
    for group, quality in pairs:
        rows = np.isfinite(study.parameters[group[0]]) & np.isfinite(study.ratings[quality])
        weight = all(map(explained_by_weight, group))
        block = found.setdefault((rows.tobytes(), weight), _Block(rows, weight, []))
        block.pairs.append((group, quality))
    return sorted(found.values(), key=lambda block: int(block.rows.sum()))


def _block_associations(
    study: Study, block: _Block, draws: int, resamples: int, seed: int
) -> list[Association]:
    n = int(block.rows.sum())
    if n < FEWEST:
        plain = [Association(parameter=g[0], alike=g[1:], quality=quality, n=n) for g, quality in block.pairs]
        return [replace(one, findings=pair_findings(study, one, block.rows)) for one in plain]
    groups = list(dict.fromkeys(group for group, _ in block.pairs))
    qualities = list(dict.fromkeys(quality for _, quality in block.pairs))
    beside = explanations(study, block.rows, block.weight)
    statistics = pair_statistics(
        np.array([study.parameters[group[0]][block.rows] for group in groups]),
        np.array([study.ratings[quality][block.rows] for quality in qualities]),
        beside,
        draws=draws,
        resamples=resamples,
        seed=seed,
    )
    told = []
    for group, quality in block.pairs:
        place = groups.index(group), qualities.index(quality)
        one = _association(group, quality, n, statistics, place, beside.names)
        told.append(replace(one, findings=pair_findings(study, one, block.rows)))
    return told


def _association(
    group: tuple[str, ...],
    quality: str,
    n: int,
    found: PairStatistics,
    place: tuple[int, int],
    names: tuple[str, ...],
) -> Association:
    numbers: dict[str, Any] = {
        name: None if np.isnan(value := getattr(found, name)[place]) else float(value)
        for name in PairStatistics.__slots__
    }
    bend: Bend | None = None
    if numbers["bend_at"] is not None and numbers["bend_rho"] is not None:
        bend = "best in the middle" if numbers["bend_rho"] < 0 else "worst in the middle"
    on = names if numbers["rho"] is not None else ()
    return Association(
        parameter=group[0], alike=group[1:], quality=quality, n=n, partial_on=on, bend=bend, **numbers
    )


def _trend_p(one: Association) -> float:
    """The greater of p and partial p; 1 where the parameter cannot be told apart from what else is noted."""
    if one.p is None or (one.partial_on and one.partial_p is None):
        return 1.0
    return one.p if one.partial_p is None else max(one.p, one.partial_p)


def _claimed(asked: list[Association], rate: float) -> tuple[list[Association], list[bool], int]:
    """Every association with its q; whether its trend would be claimed with nothing else accounted for; and
    the size of the family."""
    trends = [k for k, one in enumerate(asked) if one.p is not None]
    bends = [k for k, one in enumerate(asked) if one.bend_p is not None]
    of_bends = [asked[k].bend_p or 1.0 for k in bends]
    q = discovery_q([*(_trend_p(asked[k]) for k in trends), *of_bends])
    q_alone = discovery_q([*(asked[k].p or 1.0 for k in trends), *of_bends])
    found, alone = list(asked), [False] * len(asked)
    for k, value in zip(trends, q_alone[: len(trends)], strict=True):
        alone[k] = value <= rate
    for k, value in zip(trends, q[: len(trends)], strict=True):
        found[k] = replace(found[k], q=value, claimed=value <= rate)
    for k, value in zip(bends, q[len(trends) :], strict=True):
        found[k] = replace(
            found[k], bend_q=value, bend_claimed=value <= rate and found[k].bend_at is not None
        )
    return found, alone, len(trends) + len(bends)


def _ordered(study: Study, order: npt.NDArray[np.intp]) -> Study:
    places = order.tolist()
    return Study(
        labels=tuple(study.labels[k] for k in places),
        **{
            name: {key: column[order] for key, column in getattr(study, name).items()}
            for name in ("parameters", "parameter_sds", "ratings", "levels", "numbers")
        },
        groups={key: tuple(words[k] for k in places) for key, words in study.groups.items()},
    )
