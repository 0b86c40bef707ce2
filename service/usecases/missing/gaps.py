"""The facts of the whole workshop that would narrow predictions most, in one currency.

What a gap is worth is told by how much narrower 90 % intervals would become, in the mean over the stacks that
the workshop really plaits (``gap_targets``). For readings (a test plait, another whip, readings that become
usable) the variance that predictions would lose is worked out from the fit in force, without fitting again
(``models.calibration.gain``); for a measurement of a cord by predicting with and without it, less what its
readings tell already. Roughly right: a fit made anew would also move the variances between cords, makers and
whips.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from sqlalchemy.orm import Session

from plaitlog.models.calibration.gain import floor_variances, variance_losses
from plaitlog.models.calibration.observations import Z90
from plaitlog.models.counted import counted
from plaitlog.models.errors import Finding
from plaitlog.service.usecases.missing.gap_candidate import Array, Candidate, Gap, Kind
from plaitlog.service.usecases.missing.gap_cords import measurements, plaits_to_try
from plaitlog.service.usecases.missing.gap_targets import Target, targets
from plaitlog.service.usecases.missing.gap_whips import facts_to_look_up, other_whips
from plaitlog.service.usecases.observing import observe
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.predicting import NO_FIT, InForce, fit_in_force
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import cords_with_stock, whips

LEAST: Final = 0.0001
"""Gaps worth less than a hundredth of a per cent are not listed."""
MOST_WEIGHED: Final = 600
"""Whips with holes beyond these are left out, those with the fewest readings to win first."""
HOW: Final = (
    "Worked out from the fit in force, without fitting again, and roughly right: in the mean over stacks as "
    "they were plaited here, the latest whips first; stacks in cords out of stock count half."
)


@dataclass(frozen=True, slots=True)
class Gaps:
    """All gaps, the most first. ``half_width_mm``: of the 90 % interval now, in the mean over ``stacks``.

    floor_mm : the same if everything about cords and makers were known. waiting : usable readings that no
    fit has seen, where none is stored. unusable : readings whose stack is not known; one fact for each whip
    would free ``freed_by_one`` of them.
    """

    gaps: tuple[Gap, ...]
    stacks: int
    half_width_mm: float
    floor_mm: float
    basis: str
    findings: tuple[Finding, ...]
    waiting: int = 0
    unusable: int = 0
    freed_by_one: int = 0

    def sentences(self, shown: ShownUnits) -> list[str]:
        """How things stand now, before any gap is named."""
        if not self.stacks:
            return ["Nothing to weigh yet: record cords and whips first."]
        now = (
            f"What would narrow predictions most ({self.basis}). Now the 90 % interval is "
            f"± {shown.diameter(self.half_width_mm)} in the mean over {counted(self.stacks, 'stack')}; "
            f"± {shown.diameter(self.floor_mm)} would stay if all were known of cords and makers, since each "
            "whip is pulled a little differently."
        )
        if not self.waiting:
            return [now]
        waiting = f"{counted(self.waiting, 'reading')} wait for a fit: run fit first."
        return [f"{waiting} What follows is weighed as if they were not there.", now]

    @property
    def unusable_words(self) -> str:
        """How many readings no fit can use; empty where there are none."""
        if not self.unusable:
            return ""
        return (
            f"No fit can use {counted(self.unusable, 'reading')}; one fact for each whip would free "
            f"{self.freed_by_one} of them"
        )

    def lines(self, shown: ShownUnits, top: int) -> Iterator[str]:
        if not self.stacks:
            yield "Nothing to weigh yet: record cords and whips first (record, import FILE)."
            return
        yield from self.sentences(shown)
        for number, gap in enumerate(self.gaps[:top], start=1):
            there = f" ({_percent(gap.there)} on the {counted(gap.stacks, 'stack')} {_ABOUT[gap.kind]})"
            yield (
                f"{number:3} {_percent(gap.narrower):>7}  {gap.what(shown)}"
                f"{there if gap.stacks < self.stacks else ''}"
            )
            yield f"{'':13}{gap.do(shown)}"
        if not self.gaps:
            yield f"Nothing that is missing would narrow it by {_percent(LEAST)}."
        if len(self.gaps) > top:
            yield f"and {len(self.gaps) - top} more that would buy less (--top)"
        if self.unusable:
            yield f"{self.unusable_words} (show LABEL)."
        yield HOW

    def to_json(self, shown: ShownUnits, top: int) -> dict[str, Any]:
        return {
            "gaps": [gap.to_json(shown) for gap in self.gaps[:top]],
            "of": len(self.gaps),
            "stacks": self.stacks,
            "half_width_90_mm": self.half_width_mm,
            "half_width_90_floor_mm": self.floor_mm,
            "basis": self.basis,
            "readings_waiting_for_a_fit": self.waiting,
            "readings_unusable": self.unusable,
            "readings_freed_by_one_fact": self.freed_by_one,
            "findings": [{"code": x.code, "text": x.text, "remedy": x.remedy} for x in self.findings],
        }


_ABOUT: Final[Mapping[Kind, str]] = {
    "cord": "with it",
    "test plait": "with it",
    "whip": "with its cords",
    "place": "with its cords",
    "maker": "of theirs",
}


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %" if share >= 0.001 else f"{100 * share:.2f} %"


def gaps(session: Session) -> Gaps:
    """What is missing in the whole workshop, weighed and ranked. Reads only."""
    in_force = fit_in_force(session)
    stock = cords_with_stock(session)
    cords = {each.cord.name: each.cord for each in stock}
    known = [placed(whip) for whip in whips(session)]
    stocked = frozenset(each.cord.name for each in stock if each.stock)
    found = targets(known, cords, stocked)
    made = [whip for whip in known if whip.status != "planned"]
    seen = {whip.label: observe(whip, cords) for whip in made}
    measured = Counter(whip.maker for whip in made if whip.maker and seen[whip.label][0])
    to_look_up = [each for whip in made for each in facts_to_look_up(whip, cords)]
    candidates = [
        *measurements(in_force, list(cords.values()), found),
        *plaits_to_try(in_force, stock, found),
        *sorted(to_look_up, key=lambda x: -x.readings)[:MOST_WEIGHED],
        *other_whips(measured, found),
    ]
    findings = in_force.findings if in_force.number is not None else (NO_FIT,)
    if not found:
        return Gaps((), 0, 0.0, 0.0, in_force.rests_on, findings)
    now = _Now.of(in_force, found)
    by_one: dict[str, int] = {}
    for each in to_look_up:
        if each.kind == "whip" and each.facts == 1:
            by_one[each.about] = max(by_one.get(each.about, 0), each.readings)
    return Gaps(
        _best(now.weighed(in_force, candidates)),
        len(found),
        now.mean_half_mm(now.sd**2),
        now.mean_half_mm(floor_variances(in_force.calibration, [x.query for x in found])),
        in_force.rests_on,
        findings,
        waiting=sum(len(known) for known, _ in seen.values()) if in_force.number is None else 0,
        unusable=sum(len(reasons) for _, reasons in seen.values()),
        freed_by_one=sum(by_one.values()),
    )


@dataclass(frozen=True, slots=True)
class _Now:
    """What is predicted of the targets now: median, sd of log diameter, correction of widths, weights."""

    found: Sequence[Target]
    middle: Array
    sd: Array
    scale: Array
    weights: Array

    @staticmethod
    def of(in_force: InForce, found: Sequence[Target]) -> "_Now":
        told = in_force.predict([target.query for target in found])
        middle, sd, low, high = (
            np.array([getattr(x, name) for x in told])
            for name in ("diameter_mm", "sd_log", "low_90_mm", "high_90_mm")
        )
        weights = np.array([target.weight for target in found])
        return _Now(found, middle, sd, np.log(high / low) / (2 * Z90 * sd), weights / weights.sum())

    def half_mm(self, variance: Array) -> Array:
        """Half the 90 % interval of each target at a variance of log diameter, times the target's weight."""
        return np.asarray(self.weights * self.middle * np.sinh(Z90 * self.scale * np.sqrt(variance)))

    def mean_half_mm(self, variance: Array) -> float:
        return float(self.half_mm(variance).sum())

    def weighed(self, in_force: InForce, candidates: Sequence[Candidate]) -> list[Gap]:
        trials = [x.trial for x in candidates if x.trial is not None]
        queries = [x.query for x in self.found]
        losses = iter(variance_losses(in_force.calibration, queries, trials))
        before = self.half_mm(self.sd**2)
        return [
            self._gap(each, each.losses if each.losses is not None else next(losses), before)
            for each in candidates
        ]

    def _gap(self, each: Candidate, less: Array, before: Array) -> Gap:
        # No reading takes away the noise of the next one; the bound only keeps rounding off.
        after = self.half_mm(np.maximum(self.sd**2 - less, 0.01 * self.sd**2))
        there = np.array([each.concerns(target) for target in self.found])
        return Gap(
            kind=each.kind,
            about=each.about,
            what=each.what,
            do=each.do,
            narrower=float(1 - after.sum() / before.sum()),
            there=float(1 - after[there].sum() / before[there].sum()) if there.any() else 0.0,
            stacks=int(there.sum()),
            readings=each.readings,
            facts=each.facts,
        )


def _best(weighed: Sequence[Gap]) -> tuple[Gap, ...]:
    """By worth; of several sets of facts about one whip only the one that buys most for each fact."""
    best: dict[tuple[str, str], Gap] = {}
    kept = []
    for gap in weighed:
        if gap.kind != "whip":
            kept.append(gap)
            continue
        other = best.get((gap.kind, gap.about))
        if other is None or gap.narrower / gap.facts > other.narrower / other.facts:
            best[gap.kind, gap.about] = gap
    kept += best.values()
    return tuple(sorted((x for x in kept if x.narrower >= LEAST), key=lambda x: (-x.narrower, x.about)))
