"""Are the latest whips off in one direction? Those the fit in force does not know, and the last ten it does.

A fit agrees with what it was made from, so that whips in it are held against a fit without them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.artifact import from_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.common_shift import CommonShift, common_shift
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.single_readings import observations
from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.models.tables import FitRow
from plaitlog.service.usecases.gathering import gather
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.whips_in_fit import whips_known_to

LATEST: Final = 10
SELDOM: Final = 0.05
"""A shift that chance shows in fewer than 1 of 20 such checks is called one."""
LEFT: Final = 5
"""Whips that must be left to expect others from."""


@dataclass(frozen=True, slots=True)
class Checked:
    """Some whips held against what a fit without them expects; ``shift`` None: too few to tell.

    which : in words, to begin a sentence with.
    """

    which: str
    whips: int
    shift: CommonShift | None

    @property
    def drifts(self) -> bool:
        return self.shift is not None and self.shift.p_value < SELDOM

    def sentence(self, shown: ShownUnits) -> str:
        shift = self.shift
        if shift is None:
            return f"{self.which}: too few to tell; three with readings are needed, and five others."
        way = "thicker" if shift.shift_log > 0 else "thinner"
        size = f"{100 * abs(np.expm1(shift.shift_log)):.1f} % {way}"
        at = f"{shown.diameter(abs(shift.shift_mm))} at {shown.diameter(shift.middle_mm)}"
        low, high = (100 * np.expm1(x) for x in (shift.low_95_log, shift.high_95_log))
        sure = f"95 %: {low:+.1f} to {high:+.1f} %"
        chance = f"{100 * shift.p_value:.0f}" if shift.p_value >= 0.01 else "less than one"
        if self.drifts:
            return (
                f"{self.which} come out {size} than expected ({at}; {sure}). Chance alone shows as much in "
                f"{chance} of 100 such checks: something may have changed, such as a lot of cord, the "
                "calipers or the tension."
            )
        return (
            f"{self.which} show no drift: they come out {size} than expected ({at}; {sure}), which chance "
            f"alone shows in {chance} of 100 such checks."
        )

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        shift = self.shift
        return {
            "whips": self.whips,
            "drifts": self.drifts,
            "words": self.sentence(shown),
            "shift_log": None if shift is None else shift.shift_log,
            "low_95_log": None if shift is None else shift.low_95_log,
            "high_95_log": None if shift is None else shift.high_95_log,
            "shift_mm": None if shift is None else shift.shift_mm,
            "at_mm": None if shift is None else shift.middle_mm,
            "p_value": None if shift is None else shift.p_value,
            "each": []
            if shift is None
            else [
                {"whip": one.whip, "readings": one.readings, "off_log": one.off_log} for one in shift.whips
            ],
        }


@dataclass(frozen=True, slots=True)
class Drift:
    """Both checks: of whips recorded since the fit was made, and of the last ones it knows."""

    fit: int
    since: Checked
    latest: Checked

    @property
    def findings(self) -> tuple[Finding, ...]:
        """One where either drifts."""
        if not (self.since.drifts or self.latest.drifts):
            return ()
        text = "the latest whips are off in one direction"
        return (Finding("drift", text, "check calipers and lots of cord, measure one whip again, fit again"),)

    def to_json(self, shown: ShownUnits) -> dict[str, Any]:
        return {
            "fit": self.fit,
            "since": self.since.to_json(shown),
            "latest": self.latest.to_json(shown),
        }


def drift(session: Session) -> Drift:
    """Check the latest whips against the fit in force; each whip counts as one, however often it was read.

    Raises
    ------
    NotFoundError
        Where no fit is stored.
    InputError
        Where the fit does not tell which whips it knows.
    """
    row = session.scalars(select(FitRow).where(FitRow.current)).one_or_none()
    if row is None:
        raise NotFoundError(Finding("no-fit", "no fit is stored to check whips against", "run fit"))
    calibration = from_json(row.artefact)
    data = gather(session).readings
    usable = frozenset(data.whips[code] for code in np.unique(data.whip).tolist())
    known, new = ([x for x in labels if x in usable] for labels in whips_known_to(session, row))
    since, latest = new[-LATEST:], known[-LATEST:]
    return Drift(
        row.id,
        Checked(
            f"The {len(since)} latest of {len(new)} whips recorded since fit {row.id} was made"
            if len(new) > len(since)
            else f"The {len(new)} whips recorded since fit {row.id} was made",
            len(since),
            common_shift(calibration, _of(data, since)) if since else None,
        ),
        Checked(
            f"The last {len(latest)} whips that fit {row.id} knows",
            len(latest),
            _left_out(calibration, data, known[:-LATEST], latest),
        ),
    )


def _left_out(
    calibration: Calibration, data: Readings, others: Sequence[str], latest: Sequence[str]
) -> CommonShift | None:
    """The shift of whips against a fit to others; their robust weights and spreads know nothing of them."""
    from plaitlog.models.calibration.diameter import DiameterModel

    if len(others) < LEFT:
        return None
    without = DiameterModel(**calibration.parameters).fit(_columns(data, others), start=calibration)
    return common_shift(without.calibration_, _of(data, latest))


def _columns(data: Readings, labels: Sequence[str]) -> Readings:
    place = {label: k for k, label in enumerate(data.whips)}
    return data.of_whips(np.array([place[label] for label in labels], dtype=np.intp))


def _of(data: Readings, labels: Sequence[str]) -> list[Observation]:
    return list(observations(_columns(data, labels)))
