"""Weight, balance point and cord use of a whip, recorded or only planned, from the workshop's weights."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.weight import (
    Weighing,
    WeightCalibration,
    WeightPrediction,
    fit_weights,
)
from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.mass import MassDistribution, mass_distribution
from plaitlog.models.tables import WeightRow
from plaitlog.models.whip import NONE, Cord, Weight, Whip
from plaitlog.service.usecases.loading import load_whips
from plaitlog.service.usecases.workshop import cords_by_name

LATEST: Final = 60
"""How many whips, the last recorded that were weighed, are learnt from (own choice: a second of work)."""
HANDLE_SD: Final = 0.3
"""In log weight, where a handle is not in the layers. Physical reasoning: up to half the thong's mass."""
PART_SD: Final = 0.03
"""In log weight for each unstated or unweighed fitting. Physical reasoning: 5 to 15 g each."""


@dataclass(frozen=True, slots=True)
class Expected:
    """What a whip should weigh (thong without fittings), where it balances, what cord it takes.

    ``balance_mm`` is counted from the whip's own datum, the thong laid straight; ``cord_m`` is by cord,
    with nothing for tails and waste.
    """

    weight: WeightPrediction
    balance_mm: float
    cord_m: Mapping[str, float]
    learnt_from: int
    findings: tuple[Finding, ...] = ()

    def to_json(self) -> dict[str, Any]:
        return {
            "weight_g": self.weight.weight_g,
            "weight_low_90_g": self.weight.low_90_g,
            "weight_high_90_g": self.weight.high_90_g,
            "balance_mm": self.balance_mm,
            "cord_use": [{"cord": name, "metres": metres} for name, metres in self.cord_m.items()],
            "weighed_whips": self.learnt_from,
            "findings": [finding.text for finding in self.findings],
        }


def weighings(whips: Sequence[Whip], cords: Mapping[str, Cord]) -> list[Weighing]:
    """Every weight whose whip is known well enough, as rows of the regression; others are left out."""
    found = []
    for whip in whips:
        for weight in whip.weights:
            try:
                mass = mass_distribution(whip, cords, weight.after_layer)
            except (StackNotKnownError, ValueError):
                continue
            if mass.mass_g > 0:
                unknown = unknown_sd(whip, mass, weight)
                found.append(Weighing(whip.label, weight.weight_g, mass.mass_g, _shares(mass), unknown))
    return found


def expected(whip: Whip, cords: Mapping[str, Cord], calibration: WeightCalibration) -> Expected:
    """Expected weight, balance and cord use; ``whip`` need not be recorded.

    Raises StackNotKnownError or ValueError where the whip is not known well enough, saying what to note.
    """
    mass = mass_distribution(whip, cords)
    if not mass.mass_g > 0:
        raise ValueError(f"{whip.label}: no layer has strands to weigh; note the strand schedules")
    findings = list(mass.findings)
    if _handle_is_unknown(whip):
        findings.append(
            Finding("handle-mass", "the mass of the handle is not known", "note handle_length, 0 for none")
        )
    if calibration.whips == 0:
        findings.append(Finding("no-weights", "no whip was weighed yet: by geometry alone", "weigh a whip"))
    new = [cord for cord in mass.cord_mass_g if cord not in calibration.cords]
    if new and calibration.whips:
        findings.append(Finding("cord-not-weighed", f"never weighed in a whip: {', '.join(new)}", ""))
    weight = calibration.predict(mass.mass_g, _shares(mass), unknown_sd(whip, mass))
    return Expected(weight, mass.balance_mm, mass.cord_use_m, calibration.whips, tuple(findings))


def weight_calibration(session: Session, without: str | None = None) -> WeightCalibration:
    """What the latest weighed whips say, leaving out the whip of that label (to judge its own weight)."""
    latest = select(WeightRow.whip_id).distinct().order_by(WeightRow.whip_id.desc()).limit(LATEST)
    whips = load_whips(session, list(session.scalars(latest)))
    others = [whip for whip in whips.values() if whip.label != without]
    return fit_weights(weighings(others, cords_by_name(session)))


def expected_of(session: Session, whip: Whip, cords: Mapping[str, Cord]) -> Expected | None:
    """What the other whips make of this one; None where it is not known well enough to be weighed."""
    try:
        mass_distribution(whip, cords)
        return expected(whip, cords, weight_calibration(session, without=whip.label))
    except (StackNotKnownError, ValueError):
        return None


def far_off(noted: Weight, found: Expected) -> Finding | None:
    """A finding where a finished weight lies outside the interval."""
    if noted.after_layer is not None or found.weight.low_90_g <= noted.weight_g <= found.weight.high_90_g:
        return None
    low, high = found.weight.low_90_g, found.weight.high_90_g
    return Finding(
        "weight-far-off",
        f"{noted.weight_g:.0f} g is noted, {low:.0f} to {high:.0f} g expected",
        "look again at the weight, what was on the scale, and the strand schedules",
    )


def unknown_sd(whip: Whip, mass: MassDistribution, weight: Weight | None = None) -> float:
    """The sd in log weight of what the distribution leaves out: handle, given layers, fittings."""
    parts = len(mass.findings) + (0 if weight is None or weight.after_layer else _fittings(weight))
    return math.hypot(HANDLE_SD if _handle_is_unknown(whip) else 0.0, PART_SD * parts)


def _fittings(weight: Weight) -> int:
    if weight.with_parts == NONE:
        return 0
    return len(weight.with_parts) if weight.with_parts else 2


def _handle_is_unknown(whip: Whip) -> bool:
    """Counted from the handle end the handle lies before the first station, and no layer tells of it."""
    return whip.datum != "butt" and whip.handle_length_mm != 0


def _shares(mass: MassDistribution) -> dict[str, float]:
    return {cord: grams / mass.mass_g for cord, grams in mass.cord_mass_g.items()}
