"""Weight, balance point and metres of cord of whips: reckoned from the strands, corrected by measurements.

Units: g, mm from the butt, m. The regression is that of ``ratios``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final, Self

from plaitlog.models.calibration.mixed.mixed_model import LogNormalPrior
from plaitlog.models.calibration.ratio_evidence import RatioEvidence, ratio_evidence
from plaitlog.models.calibration.ratios import Ratio, RatioCalibration, RatioPriors, Reckoned, fit_ratios
from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.mass import MassDistribution, Resolve, by_geometry
from plaitlog.models.whip import Cord, KnownNone, Whip
from plaitlog.models.whole_mass import WholeMass, handle_before_mm, whole_mass

WEIGHT: Final = RatioPriors(
    level=(0.0, 0.15),
    parts={"rod": 0.03, "given": 0.4, "handle": 0.3, "fittings": 0.4},
    cord=LogNormalPrior(0.06, 0.7),
    whip=LogNormalPrior(0.03, 0.7),
    residual=LogNormalPrior(0.01, 0.7),
)
"""Physical reasoning: angle, crimp and stretch together are out by 15 per cent, densities from a label by 6,
a hand's pull changes the path by 3, a kitchen scale reads to 1 or 2 g in a few hundred; rods are as they are
named, other handles and fittings are guessed."""
BALANCE: Final = RatioPriors(
    level=(0.0, 0.05),
    parts={},
    cord=LogNormalPrior(0.02, 0.7),
    whip=LogNormalPrior(0.03, 0.7),
    residual=LogNormalPrior(0.02, 0.7),
)
"""Physical reasoning: a knot of 5 g more at the butt of a whip of 400 g that balances at 500 mm moves it by a
hundredth, a handle a tenth heavier by a few; found over an edge to 5 or 10 mm."""
CORD_USE: Final = RatioPriors(
    level=(0.0, 0.15),
    parts={},
    cord=LogNormalPrior(0.05, 0.7),
    whip=LogNormalPrior(0.05, 0.7),
    residual=LogNormalPrior(0.04, 0.7),
)
"""Physical reasoning: path as for the weight; tails and waste differ from hand to hand by some per cent."""
TAIL_M: Final = 0.25
"""Left over of each strand for the hand and the knots (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class WhipRatios:
    """What whips measured against what is reckoned."""

    weight: tuple[Ratio, ...] = ()
    balance: tuple[Ratio, ...] = ()
    cord_use: tuple[Ratio, ...] = ()


@dataclass(frozen=True, slots=True)
class WhipCalibrations:
    """The three regressions."""

    weight: RatioCalibration
    balance: RatioCalibration
    cord_use: RatioCalibration

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {field.name: getattr(self, field.name).to_dict() for field in fields(self)}

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Self:
        """What ``to_dict`` gave; raises as ``RatioCalibration.from_dict`` does."""
        return cls(*(RatioCalibration.from_dict(stored[field.name]) for field in fields(cls)))


def fit_whip_ratios(ratios: WhipRatios) -> WhipCalibrations:
    """The regressions from what was measured; with nothing measured, from their priors."""
    return WhipCalibrations(
        fit_ratios(ratios.weight, WEIGHT),
        fit_ratios(ratios.balance, BALANCE),
        fit_ratios(ratios.cord_use, CORD_USE),
    )


def whip_ratio_evidence(ratios: WhipRatios) -> dict[str, RatioEvidence]:
    """Cross-validation by whip of each of the three for which there are enough whips, by its name."""
    found = {
        "weight": ratio_evidence(ratios.weight, WEIGHT),
        "balance": ratio_evidence(ratios.balance, BALANCE),
        "cord_use": ratio_evidence(ratios.cord_use, CORD_USE),
    }
    return {name: evidence for name, evidence in found.items() if evidence is not None}


def whip_ratios(
    whips: Sequence[Whip], cords: Mapping[str, Cord], resolve: Resolve = by_geometry
) -> WhipRatios:
    """Everything that was weighed, balanced and used up on whips known well enough; the rest is left out."""
    weight: list[Ratio] = []
    balance: list[Ratio] = []
    cord_use: list[Ratio] = []
    for whip in whips:
        try:
            laid = whole_mass(whip, cords, resolve=resolve)
            weight.extend(weights(whip, cords, resolve, laid))
            balance.extend(_balance(whip, laid))
            cord_use.extend(_cord_use(whip, cords, laid))
        except (StackNotKnownError, ValueError):
            continue
    return WhipRatios(tuple(weight), tuple(balance), tuple(cord_use))


def weights(whip: Whip, cords: Mapping[str, Cord], resolve: Resolve, whole: WholeMass) -> list[Ratio]:
    """Every weight of a whip, finished and after a layer; ``whole``: its mass as ``whole_mass`` gives it."""
    found = []
    for one in whip.weights:
        if one.after_layer is None:
            weighed = replace(whole, with_parts=one.with_parts)
        else:
            weighed = whole_mass(whip, cords, one.after_layer, resolve)
        # A layer given by its size alone, such as shot in a sheath, teaches nothing by itself.
        if weighed.thong.cord_mass_g:
            found.append(Ratio(whip.label, one.weight_g, reckoned_weight(weighed)))
    return found


def reckoned_weight(whole: WholeMass) -> Reckoned:
    """The weight of a whip, finished or after a layer; some strand must be in it."""
    along = whole.along
    return Reckoned(value=along.mass_g, cords=_shares(along), parts=whole.shares, unknown_sd=whole.unknown_sd)


def reckoned_balance(whip: Whip, whole: WholeMass) -> Reckoned | None:
    """Where a whip laid straight balances, from its butt; None where its handle's length is not known."""
    before = handle_before_mm(whip)
    if before is None:
        return None
    at = whole.along.balance_mm + before
    # What is guessed lies about as far from the balance point as the butt does.
    return Reckoned(value=at, unknown_sd=whole.unknown_sd) if at > 0 else None


def reckoned_cord_use(whip: Whip, cords: Mapping[str, Cord], whole: WholeMass) -> dict[str, Reckoned]:
    """Metres of each cord that a whip takes, tails included; over a handle of unknown length nothing."""
    strands = strands_cut(whip, cords)
    return {
        cord: Reckoned(value=metres + TAIL_M * strands.get(cord, 0.0), cords={cord: 1.0})
        for cord, metres in whole.along.cord_use_m.items()
        if metres > 0
    }


def strands_cut(whip: Whip, cords: Mapping[str, Cord]) -> dict[str, float]:
    """How many strands of each cord are cut for a whip: of each layer the most that run at one place.

    ``cords`` by the names in the record; where a cord stands for another, its own name counts.
    """
    found: dict[str, float] = {}
    for layer in whip.layers:
        steps = () if layer.schedule is None else layer.schedule.steps
        for k, cord in enumerate(layer.cords):
            most = max((step.counts[k].mid for step in steps), default=0.0)
            name = cords[cord.cord].name
            found[name] = found.get(name, 0.0) + most
    return found


def weighed_with(
    whip: Whip, otherwise: tuple[str, ...] | KnownNone | None
) -> tuple[str, ...] | KnownNone | None:
    """What hung on the finished whip when it was weighed; ``otherwise`` where it was not."""
    finished = [weight.with_parts for weight in whip.weights if weight.after_layer is None]
    return finished[0] if finished else otherwise


def _balance(whip: Whip, whole: WholeMass) -> list[Ratio]:
    noted = whip.balance
    if noted is None or noted.how not in (None, "laid straight"):
        return []
    hung = replace(whole, with_parts=weighed_with(whip, None))
    reckoned, handle = reckoned_balance(whip, hung), whip.handle_length_mm
    from_handle = noted.counted_from != "butt"
    if reckoned is None or (from_handle and handle is None):
        return []
    measured = noted.at_mm + (handle or 0.0 if from_handle else 0.0)
    return [Ratio(whip.label, measured, reckoned)] if measured > 0 else []


def _cord_use(whip: Whip, cords: Mapping[str, Cord], whole: WholeMass) -> list[Ratio]:
    if not whip.cord_used or handle_before_mm(whip) is None:
        return []
    reckoned = reckoned_cord_use(whip, cords, whole)
    return [
        Ratio(whip.label, use.metres, reckoned[use.cord])
        for use in whip.cord_used
        if use.cord in reckoned and use.metres > 0
    ]


def _shares(mass: MassDistribution) -> dict[str, float]:
    return {cord: grams / mass.mass_g for cord, grams in mass.cord_mass_g.items()}
