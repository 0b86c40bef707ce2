"""Weight, balance point and cord use of a whip, recorded or only planned, as the weighed whips teach them.

What they teach is learnt with a fit, on the diameters it predicts, and kept with it.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import Any, Final

from sqlalchemy import exists, or_, select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.calibrated_geometry import calibrated_geometry
from plaitlog.models.calibration.ratio_evidence import RatioEvidence
from plaitlog.models.calibration.ratios import Expectation
from plaitlog.models.calibration.whip_ratios import (
    WhipCalibrations,
    WhipRatios,
    fit_whip_ratios,
    reckoned_balance,
    reckoned_cord_use,
    reckoned_weight,
    weighed_with,
    weights,
    whip_ratio_evidence,
    whip_ratios,
)
from plaitlog.models.errors import ArtifactError, Finding, StackNotKnownError
from plaitlog.models.tables import CordUseRow, WeightRow, WhipRow
from plaitlog.models.whip import NONE, ON_THE_BENCH, Cord, Weight, Whip
from plaitlog.models.whole_mass import handle_before_mm, whole_mass
from plaitlog.service.usecases.loading import load_whips
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.workshop import cords_by_name

LATEST: Final = 200
"""How many finished whips, the last recorded that were weighed or whose cord was measured, are learnt from
(own choice: some seconds of work)."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """Finished whips on which a weight, a balance point or cord use is noted, and every cord by name."""

    whips: tuple[Whip, ...] = ()
    cords: Mapping[str, Cord] | None = None


NOTHING_WEIGHED: Final = Weighed()


@dataclass(frozen=True, slots=True)
class Weighing:
    """What was learnt, and the evidence for each of weight, balance and cord use where whips suffice."""

    calibrations: WhipCalibrations
    evidence: Mapping[str, RatioEvidence]

    def to_dict(self) -> dict[str, Any]:
        """Plain values, to be kept with a fit."""
        evidence = {name: asdict(one) for name, one in self.evidence.items()}
        return {"calibrations": self.calibrations.to_dict(), "evidence": evidence}


@dataclass(frozen=True, slots=True)
class Expected:
    """What a whip should weigh, where it balances, what cord it takes; intervals are of 90 %.

    weight : g, thong and handle without fall and cracker. noted : every finished weight that is noted, with
    what was expected of it with the parts that were on the scale. balance : mm from the butt, laid straight
    with what was on the scale; None where the handle's length is not known. cord_use : m by cord, with tails.
    safe_cord : by cord, what its reckoned length is to be multiplied with for the upper end of the interval.
    """

    weight: Expectation
    noted: tuple[tuple[Weight, Expectation], ...]
    balance: Expectation | None
    cord_use: Mapping[str, Expectation]
    safe_cord: Mapping[str, float]
    weighed_whips: int
    findings: tuple[Finding, ...] = ()

    def to_json(self) -> dict[str, Any]:
        return {
            "weight_g": self.weight.value,
            "weight_low_90_g": self.weight.low_90,
            "weight_high_90_g": self.weight.high_90,
            "balance_from_butt_mm": None if self.balance is None else self.balance.value,
            "balance_low_90_mm": None if self.balance is None else self.balance.low_90,
            "balance_high_90_mm": None if self.balance is None else self.balance.high_90,
            "cord_use": [
                {"cord": name, "metres": use.value, "low_90_m": use.low_90, "high_90_m": use.high_90}
                for name, use in self.cord_use.items()
            ],
            "weighed_whips": self.weighed_whips,
            "findings": [finding.text for finding in self.findings],
        }


def weighed_whips(session: Session, at_most: int = LATEST) -> Weighed:
    """The latest finished whips from which weights, balance points and cord use can be learnt."""
    noted = or_(
        exists().where(WeightRow.whip_id == WhipRow.id),
        exists().where(CordUseRow.whip_id == WhipRow.id),
        WhipRow.balance_at_mm.is_not(None),
    )
    made = or_(WhipRow.status.is_(None), WhipRow.status == "finished")
    keys = session.scalars(select(WhipRow.id).where(noted, made).order_by(WhipRow.id.desc()).limit(at_most))
    return Weighed(tuple(load_whips(session, list(keys)).values()), cords_by_name(session))


def learn_weighing(weighed: Weighed, calibration: Calibration, *, with_evidence: bool = True) -> Weighing:
    """Learn from weighed whips, whose layers lie as thick as ``calibration`` predicts."""
    from threadpoolctl import threadpool_limits

    # Equations of a dozen unknowns: more threads than one only wait for each other.
    with threadpool_limits(1):
        found = whip_ratios(weighed.whips, weighed.cords or {}, partial(calibrated_geometry, calibration))
        return Weighing(fit_whip_ratios(found), whip_ratio_evidence(found) if with_evidence else {})


def weighing_of(kept: Mapping[str, Any] | None) -> Weighing:
    """What a fit keeps of weighing; the priors where it keeps none.

    Raises
    ------
    ArtifactError
        Where it cannot be read.
    """
    if kept is None:
        return Weighing(fit_whip_ratios(WhipRatios()), {})
    try:
        return Weighing(WhipCalibrations.from_dict(kept["calibrations"]), evidence_of(kept))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        text = f"what the stored fit says of weights cannot be read ({type(error).__name__})"
        raise ArtifactError(Finding("fit-not-reproduced", text, "fit again")) from error


def evidence_of(kept: Mapping[str, Any] | None) -> dict[str, RatioEvidence]:
    """The evidence alone of what a fit keeps of weighing; none where it keeps none."""
    return {} if kept is None else {name: RatioEvidence(**one) for name, one in kept["evidence"].items()}


def expected(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> Expected:
    """Expected weight, balance and cord use; ``whip`` need not be recorded.

    Weights noted after a layer of a whip on the bench take part: what was pulled so far is on the scale.

    Raises
    ------
    StackNotKnownError, ValueError
        Where the whip is not known well enough, saying what to note.
    """
    resolve = partial(calibrated_geometry, in_force.calibration)
    whole = whole_mass(whip, cords, resolve=resolve)
    if not whole.thong.cord_mass_g:
        raise ValueError(f"{whip.label}: no layer has strands to weigh; note the strand schedules")
    learnt = weighing_of(in_force.weighing).calibrations
    own = weights(_on_the_bench(whip), cords, resolve, whole)
    reckoned = reckoned_weight(whole)
    balance = reckoned_balance(whip, replace(whole, with_parts=weighed_with(whip, NONE)))
    uses = reckoned_cord_use(whip, cords, whole)
    cord_use = {cord: learnt.cord_use.expect(use) for cord, use in uses.items()}
    return Expected(
        weight=learnt.weight.expect(reckoned, own),
        noted=tuple(
            (noted, learnt.weight.expect(reckoned_weight(replace(whole, with_parts=noted.with_parts)), own))
            for noted in whip.weights
            if noted.after_layer is None
        ),
        balance=None if balance is None else learnt.balance.expect(balance),
        cord_use=cord_use if handle_before_mm(whip) is not None else {},
        safe_cord={cord: use.high_90 / uses[cord].value for cord, use in cord_use.items()},
        weighed_whips=learnt.weight.whips,
        findings=(*whole.findings, *_findings(learnt, reckoned.cords)),
    )


def expected_or_none(in_force: InForce, whip: Whip, cords: Mapping[str, Cord]) -> Expected | None:
    """``expected``; None where the whip is not known well enough to be weighed."""
    try:
        return expected(in_force, whip, cords)
    except (StackNotKnownError, ValueError):
        return None


def far_off(noted: Weight, found: Expectation) -> Finding | None:
    """A finding where a finished weight lies outside the interval."""
    if found.low_90 <= noted.weight_g <= found.high_90:
        return None
    return Finding(
        "weight-far-off",
        f"{noted.weight_g:.0f} g is noted, {found.low_90:.0f} to {found.high_90:.0f} g expected",
        "look again at the weight, what was on the scale, and the strand schedules",
    )


def _on_the_bench(whip: Whip) -> Whip:
    """The whip with those weights alone that say something of what is still to come."""
    if whip.status != ON_THE_BENCH:
        return replace(whip, weights=())
    return replace(whip, weights=tuple(one for one in whip.weights if one.after_layer is not None))


def _findings(learnt: WhipCalibrations, shares: Mapping[str, float]) -> list[Finding]:
    if learnt.weight.whips == 0:
        return [Finding("no-weights", "the fit knows no weighed whip: by geometry alone", "weigh whips, fit")]
    new = [cord for cord in shares if cord not in learnt.weight.cords]
    return [Finding("cord-not-weighed", f"never weighed in a whip: {', '.join(new)}")] if new else []
