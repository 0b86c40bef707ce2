"""Predict: the fit in force, and the diameter of one stack."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final
from weakref import WeakKeyDictionary

from sqlalchemy import Pool, select
from sqlalchemy.orm import Session, defer

from plaitlog.models.calibration.artifact import OTHER_VERSION, from_json
from plaitlog.models.calibration.calibrated import Calibration, prior_calibration
from plaitlog.models.calibration.prediction import Interval, Prediction, Query, predict
from plaitlog.models.counted import counted
from plaitlog.models.errors import ArtifactError, Finding
from plaitlog.models.tables import FitRow, ReadingRow
from plaitlog.service.usecases.observing import fingerprint_of

CAUTION: Final = "Predictions are estimates; measure while you build."
NO_FIT: Final = Finding(
    "no-fit",
    "no fit is stored: this rests on geometry and common sense alone",
    "record whips with readings, then run fit",
)
NOTHING_LEFT: Final = Finding(
    "fit-of-nothing",
    "nothing the last fit was learnt from is here any more: this rests on geometry and common sense alone",
    "record whips with readings, then run fit",
)
STALE: Final = Finding(
    "stale-fit", "whips, readings or cords changed since the fit was made", "run fit to learn from them"
)


@dataclass(frozen=True, slots=True)
class InForce:
    """The calibration that predicts; ``number`` is None where nothing was fitted yet and it is the priors.

    weighing : what the fit keeps of weights, balance points and cord use, to be read by ``weighing``.
    last_reading : key of the latest reading there was when it was made; 0 where that is not told.
    """

    calibration: Calibration
    number: int | None
    findings: tuple[Finding, ...] = ()
    weighing: Mapping[str, Any] | None = None
    last_reading: int = 0

    @property
    def rests_on(self) -> str:
        """What predictions rest on, in words."""
        calibration = self.calibration
        if self.number is None:
            return NO_FIT.text
        return (
            f"fit {self.number}: {counted(calibration.readings, 'reading')} of "
            f"{counted(calibration.whips, 'whip')} in {counted(len(calibration.cords), 'cord')}"
        )

    def predict(self, queries: Sequence[Query], interval: Interval = "reading") -> list[Prediction]:
        """Predictions, each with the findings of the fit itself after its own."""
        found = predict(self.calibration, queries, interval=interval)
        if not self.findings:
            return found
        return [replace(one, findings=(*one.findings, *self.findings)) for one in found]


# A stored fit never changes, and reading one costs more than all the predictions of a page: the one that a
# database was last asked for is kept as long as its connections are.
_read: WeakKeyDictionary[Pool, tuple[tuple[object, ...], InForce]] = WeakKeyDictionary()


def fit_in_force(session: Session) -> InForce:
    """The current fit, else the priors; a fit older than the records carries a finding."""
    row = session.scalars(
        select(FitRow).where(FitRow.current).options(defer(FitRow.artefact), defer(FitRow.evidence))
    ).one_or_none()
    if row is None:
        return InForce(replace(prior_calibration(), findings=(NO_FIT,)), None)
    stale = row.fingerprint != fingerprint_of(session)
    try:
        found = _kept(session, row)
    except ArtifactError as error:
        if error.finding.code != OTHER_VERSION:
            raise
        # After an update nobody should be left without an answer until the next fit.
        return InForce(replace(prior_calibration(), findings=(error.finding,)), None)
    if stale and not anything_left(session, found.last_reading):
        return InForce(replace(prior_calibration(), findings=(NOTHING_LEFT,)), None)
    return replace(found, findings=(STALE,)) if stale else found


def anything_left(session: Session, last_reading: int) -> bool:
    """Whether a reading is here that a fit may have seen: an import that was undone takes them all."""
    if not last_reading:
        return True
    seen = select(ReadingRow.id).where(ReadingRow.id <= last_reading)
    return session.scalar(seen.limit(1)) is not None


def _kept(session: Session, row: FitRow) -> InForce:
    pool = session.connection().engine.pool
    named = (row.id, row.created_at, row.fingerprint, row.code_version)
    kept = _read.get(pool)
    if kept is None or kept[0] != named:
        kept = named, stored_fit(row)
        _read[pool] = kept
    return kept[1]


def stored_fit(row: FitRow) -> InForce:
    """A stored fit as if it were in force; whether it is older than the records is not asked.

    Raises
    ------
    ArtifactError
        Where it does not reproduce its own objective, or is of another version.
    """
    kept = row.artefact.get("records") or {}
    last_reading = 0 if kept.get("added") else int(kept.get("last_reading", 0))
    return InForce(from_json(row.artefact), row.id, (), row.artefact.get("weighing"), last_reading)
