"""What there is to say about associations: what cannot be concluded, from how many, and what explains it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding
from plaitlog.models.handling.alike import FEWEST
from plaitlog.models.handling.explanations import HARDLY_VARIES, explained_by_weight, explanations
from plaitlog.models.handling.partial_ranks import PartialTest, basis
from plaitlog.models.handling.ranks import standard_ranks
from plaitlog.models.handling.shuffles import EXACT_UP_TO, smallest_p
from plaitlog.models.handling.spoken import listed, spoken
from plaitlog.models.handling.study import Study

if TYPE_CHECKING:
    from plaitlog.models.handling.associations import Association

LOW_RELIABILITY: Final = 0.8
"""Share of a parameter's variance between whips that is not error of measurement, below which it is said."""
NEARLY_ALL: Final = 0.9
"""Share of error above which no size is told."""


def pair_findings(study: Study, one: "Association", rows: npt.NDArray[np.bool_]) -> tuple[Finding, ...]:
    """Of one pair alone, over the whips ``rows`` that have both parameter and rating."""
    found: list[Finding] = []
    what, quality = spoken(one.parameter), spoken(one.quality)

    def say(code: str, text: str, remedy: str = "") -> None:
        found.append(Finding(code, text, remedy, f"{one.parameter}, {one.quality}"))

    if one.n < FEWEST:
        have = "has" if one.n == 1 else "have"
        say(
            "too-few-pairs",
            f"{counted(one.n, 'whip')} {have} both {what} and a rating of {quality}; "
            f"no correlation from fewer than {FEWEST}",
            "rate or measure more whips",
        )
        return tuple(found)
    x, y = study.parameters[one.parameter][rows], study.ratings[one.quality][rows]
    for column, name in ((x, what), (y, f"rating of {quality}")):
        if np.ptp(column) == 0:
            say("one-value", f"all {one.n} whips have the same {name}; nothing can be concluded from it")
    if one.rho is None:
        return tuple(found)
    if one.low_95 is None:
        say("no-interval", f"{one.n} whips agree so well that resampling them tells no interval")
    if one.partial_on and one.partial_rho is None:
        on = listed(one.partial_on)
        say("not-apart", f"{what} cannot be told apart from {on} among these {one.n} whips: no claim is made")
    if 2 * one.n < len(rows):
        say("half-missing", f"only {one.n} of {len(rows)} whips have both {what} and a rating of {quality}")
    return tuple(found)


def explained_finding(study: Study, one: "Association", alone: bool) -> tuple[Finding, ...]:
    """Why a trend that would be claimed ``alone`` is not, or that a claim was held against nothing."""
    place = f"{one.parameter}, {one.quality}"
    if one.claimed and not one.partial_on:
        text = "nothing else is noted of these whips that could explain it"
        return (Finding("nothing-accounted-for", text, "number the whips and note who made them", place),)
    if one.claimed or not alone or one.rho is None or one.partial_rho is None:
        return ()
    name, left = _main_explanation(study, one)
    partly = " in part" if abs(one.partial_rho) > abs(one.rho) / 2 else ""
    text = (
        f"{spoken(one.quality)} goes with {spoken(one.parameter)} (rank correlation {one.rho:+.2f}), which "
        f"{spoken(name)} may explain{partly}: {left:+.2f} is left on that alone, "
        f"{one.partial_rho:+.2f} on all of {listed(one.partial_on)} (p {one.partial_p:.2g})"
    )
    return (Finding("explained-otherwise", text, f"compare whips of much the same {spoken(name)}", place),)


def common_findings(study: Study, asked: Sequence["Association"], family: int) -> tuple[Finding, ...]:
    """Of the whole answer."""
    found = []
    n = len(study.labels)
    for name, words in study.groups.items():
        if n and name in ("type", "maker") and len(set(words)) == 1 and words[0] is not None:
            text = f"all whips have the same {name} ({words[0]}): nothing is concluded for others"
            found.append(Finding(f"one-{name}", text))
    most = max((one.n for one in asked), default=0)
    if FEWEST <= most <= EXACT_UP_TO and smallest_p(most, 1) * family > 0.05:
        text = f"{most} whips can show a p of {smallest_p(most, 1):.2g} at best: too few for any discovery"
        found.append(Finding("too-few-to-claim", text, "ask about fewer parameters, or rate more whips"))
    for one in asked:
        if one.alike:
            text = f"{listed(one.alike)} cannot be told apart from {spoken(one.parameter)}; they count as one"
            finding = Finding("count-as-one", text, where=one.parameter)
            found += [finding] if finding not in found else []
    found += [
        finding
        for name in dict.fromkeys(one.parameter for one in asked if one.rho is not None)
        for finding in _measurement_error(study, name)
    ]
    rated = np.zeros(n, dtype=bool)
    for quality in {one.quality for one in asked}:
        rated |= np.isfinite(study.ratings[quality])
    if rated.sum() >= FEWEST:
        for name, why in explanations(study, rated, weight=True).left_out.items():
            if why == HARDLY_VARIES:
                continue
            text = f"{spoken(name)} is not accounted for: {why}"
            found.append(Finding("not-accounted-for", text, where=name))
    return tuple(found)


def _main_explanation(study: Study, one: "Association") -> tuple[str, float]:
    """What takes most of a correlation away when it is accounted for alone, and what is left."""
    rows = np.isfinite(study.parameters[one.parameter]) & np.isfinite(study.ratings[one.quality])
    weight = all(map(explained_by_weight, (one.parameter, *one.alike)))
    columns = explanations(study, rows, weight).columns
    X = standard_ranks(study.parameters[one.parameter][rows][None])
    Y = standard_ranks(study.ratings[one.quality][rows][None])
    left = {name: float(PartialTest(X, Y, basis(found)).observed[0, 0]) for name, found in columns.items()}
    name = min(left, key=lambda each: abs(left[each]))
    return name, left[name]


def _measurement_error(study: Study, name: str) -> tuple[Finding, ...]:
    """How much smaller error of measurement makes a correlation: by the root of the reliability, which is the
    share of the variance between whips that is no error (Spearman 1904)."""
    values, sds = study.parameters[name], study.parameter_sds[name]
    known = np.isfinite(values) & np.isfinite(sds)
    if known.sum() < FEWEST or np.ptp(values[known]) == 0:
        return ()
    error = float(np.mean(sds[known] ** 2) / np.var(values[known], ddof=1))
    if 1 - error >= LOW_RELIABILITY:
        return ()
    text = (
        f"whips differ in {spoken(name)} by little more than its error of measurement: none of it may show"
        if error >= NEARLY_ALL
        else f"{error:.0%} of how whips differ in {spoken(name)} may be error of measurement, "
        f"so that a correlation shows at {np.sqrt(1 - error):.2f} of its size"
    )
    return (Finding("measurement-error", text, "more readings on each whip would tell more", name),)
