"""Fit: learn from the recorded whips how thick each cord really comes out, with the evidence for it.

Working a fit out takes seconds and touches no database, so gathering, working out and storing are three
steps, and nobody waits for a lock meanwhile.
"""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from functools import partial
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from plaitlog.models.calibration.artifact import to_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.evidence import Evidence
from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.ratio_evidence import RatioEvidence
from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.models.tables import FitRow
from plaitlog.service.usecases.gathering import Gathered
from plaitlog.service.usecases.gathering import gather as gather
from plaitlog.service.usecases.observing import REASONS, fingerprint_of
from plaitlog.service.usecases.weighing import (
    NOTHING_WEIGHED,
    Weighed,
    Weighing,
    evidence_of,
    learn_weighing,
)
from plaitlog.service.usecases.weighing import weighed_whips as weighed_whips

NOTHING_TO_LEARN = Finding("nothing-to-learn", "no reading on a known stack is recorded", "record whips")
FIT_RUNNING = Finding("fit-running", "a fit is being made just now", "try again when it is done")
Tell = Callable[[str, float], None]
"""Told what goes on and which share of it, in 0..1, is done."""
QUICK_SHARE = 0.1
"""What the fit itself is told to take of the time with evidence, which consists of dozens of fits."""


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A fit that is not stored yet; ``evidence`` is None where it was skipped.

    weighing : what weighed whips teach on its diameters. last_reading : key of the latest reading when it was
    gathered.
    """

    calibration: Calibration
    evidence: Evidence | None
    fingerprint: str
    findings: tuple[Finding, ...]
    weighing: Weighing
    last_reading: int = 0


@dataclass(frozen=True, slots=True)
class FitInList:
    """One stored fit. ``stale``: whips, readings or cords changed since. ``added``: whips that were added to
    it one by one; its evidence is from before. ``weighing``: the evidence for weights, balance points and
    cord use, as far as whips suffice."""

    number: int
    created_at: dt.datetime
    code_version: str
    readings: int
    whips: int
    cords: int
    evidence: Evidence | None
    current: bool
    stale: bool
    added: int = 0
    weighing: Mapping[str, RatioEvidence] = field(default_factory=dict)


def work_out(
    gathered: Gathered,
    weighed: Weighed = NOTHING_WEIGHED,
    *,
    with_evidence: bool = True,
    jobs: int | None = None,
    tell: Tell = lambda words, share: None,
) -> WorkedOut:
    """Fit to what was gathered and, unless skipped, hold out whips, cords and makers in turn.

    weighed : whips to learn weights, balance points and cord use from, on the diameters of the fit.

    With too little data the fit stands on geometry and priors, and a finding says so.
    """
    from plaitlog.models.calibration.diameter import DiameterModel

    tell(f"fits {len(gathered.readings)} readings of {gathered.whips} whips", 0.0)
    calibration = DiameterModel().fit(gathered.readings).calibration_
    evidence = None
    if with_evidence and len(gathered.readings):
        from plaitlog.models.calibration.cross_validation import cross_validate

        def held_out(done: int, total: int) -> None:
            words = f"holds out whips, cords and makers in turn: {done} of {total} parts done"
            tell(words, QUICK_SHARE + (0.95 - QUICK_SHARE) * done / total)

        held_out(0, 1)
        fold = partial(_fold, start=calibration)
        crossed = cross_validate(gathered.readings, fold, jobs=jobs, tell=held_out)
        evidence = crossed.evidence
        calibration = calibration.with_interval_scales(**asdict(crossed.scales))
    findings = (*calibration.findings, *left_out_findings(gathered), *suspect_findings(calibration))
    if evidence is not None:
        findings += evidence.findings
    tell("learns weights, balance points and the use of cord", 0.95 if with_evidence else 0.8)
    weighing = learn_weighing(weighed, calibration, with_evidence=with_evidence)
    return WorkedOut(calibration, evidence, gathered.fingerprint, findings, weighing, gathered.last_reading)


def _fold(observations: Sequence[Observation], *, start: Calibration) -> Any:
    from plaitlog.models.calibration.diameter import DiameterModel

    return DiameterModel().fit(observations, start=start)


def left_out_findings(gathered: Gathered) -> tuple[Finding, ...]:
    """Why readings, or whole whips, took no part, with how many."""
    found = [
        Finding(
            "left-out",
            f"{count} {'reading' if count == 1 else 'readings'} left out: {REASONS.get(code, code)}",
            "show LABEL says what a whip lacks",
        )
        for code, count in gathered.left_out.items()
    ]
    if gathered.planned_whips:
        whips = "whip takes" if gathered.planned_whips == 1 else "whips take"
        found.append(Finding("planned", f"{gathered.planned_whips} planned {whips} no part"))
    return tuple(found)


def suspect_findings(calibration: Calibration) -> tuple[Finding, ...]:
    """Readings that do not fit the others, the worst first."""
    return tuple(
        Finding(
            "suspect-reading",
            f"{suspect.diameter_mm:.1f} mm read, {suspect.fitting_mm:.1f} mm would fit",
            "look at the whip again; it counts little as it stands",
            f"{suspect.whip}" + ("" if suspect.at_mm is None else f" at {suspect.at_mm:g} mm"),
        )
        for suspect in sorted(calibration.suspects, key=lambda suspect: -abs(suspect.residual_log))
    )


def store(session: Session, worked: WorkedOut) -> int:
    """Keep a fit and put it in force; earlier ones stay. Gives its number."""
    session.execute(update(FitRow).where(FitRow.current).values(current=False))
    row = FitRow(
        code_version=worked.calibration.code_version,
        fingerprint=worked.fingerprint,
        artefact={
            **to_json(worked.calibration),
            "records": {"last_reading": worked.last_reading},
            "weighing": worked.weighing.to_dict(),
        },
        evidence=None if worked.evidence is None else worked.evidence.to_dict(),
        current=True,
    )
    session.add(row)
    session.flush()
    return row.id


def list_fits(session: Session) -> list[FitInList]:
    """Every stored fit, the latest first."""
    now = fingerprint_of(session)
    columns = (
        FitRow.id,
        FitRow.created_at,
        FitRow.code_version,
        FitRow.fingerprint,
        FitRow.artefact["readings"].as_integer(),
        FitRow.artefact["whips"].as_integer(),
        FitRow.artefact["cords"],
        FitRow.evidence,
        FitRow.current,
        FitRow.artefact["records"]["added"],
        FitRow.artefact["weighing"],
    )
    rows = session.execute(select(*columns).order_by(FitRow.id.desc()))
    return [
        FitInList(
            number=row[0],
            created_at=row[1],
            code_version=row[2],
            readings=row[4],
            whips=row[5],
            cords=len(row[6]),
            evidence=None if row[7] is None else Evidence.from_dict(row[7]),
            current=row[8],
            stale=row[3] != now,
            added=len(row[9] or ()),
            weighing=evidence_of(row[10]),
        )
        for row in rows
    ]


def one_fit(session: Session, number: int) -> FitInList:
    """One stored fit; NotFoundError with the numbers there are."""
    found = {fit.number: fit for fit in list_fits(session)}
    if number not in found:
        raise not_found(session, number)
    return found[number]


def put_in_force(session: Session, number: int) -> None:
    """Put an earlier fit back in force.

    Raises
    ------
    NotFoundError
        With the numbers there are.
    """
    row = session.get(FitRow, number)
    if row is None:
        raise not_found(session, number)
    session.execute(update(FitRow).where(FitRow.current).values(current=False))
    session.flush()
    row.current = True
    session.flush()


def not_found(session: Session, number: int) -> NotFoundError:
    numbers = ", ".join(map(str, session.scalars(select(FitRow.id).order_by(FitRow.id)))) or "none"
    return NotFoundError(
        Finding("fit-not-found", f"no fit {number} is stored", f"stored are {numbers}; see plaitlog fits")
    )
