"""One more whip into the fit in force, at once and without a refit."""

from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from plaitlog.models.calibration.artifact import from_json, to_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.updating import updated
from plaitlog.models.errors import AlreadyThereError, Finding, FitError, NotFoundError
from plaitlog.models.tables import FitRow
from plaitlog.service.usecases.loading import load_cords
from plaitlog.service.usecases.observing import REASONS, fingerprint_of, observe
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.whips_in_fit import whips_known_to, with_added
from plaitlog.service.usecases.workshop import whip


@dataclass(frozen=True, slots=True)
class Added:
    """A fit with one more whip in it, not stored yet. ``before``: number of the fit it is made from."""

    before: int
    label: str
    readings: int
    calibration: Calibration
    artefact: dict[str, Any]
    evidence: Any
    fingerprint: str
    findings: tuple[Finding, ...]


def add_whip(session: Session, label: str) -> Added:
    """The fit in force with the readings of a whip that it does not know; reads only.

    The evidence stays that of the fit before, and a finding says so.

    Raises
    ------
    NotFoundError
        Where no fit is stored, or no such whip.
    AlreadyThereError
        Where the fit knows readings of the whip.
    FitError
        Where no reading of the whip can take part.
    """
    row = session.scalars(select(FitRow).where(FitRow.current)).one_or_none()
    if row is None:
        raise NotFoundError(Finding("no-fit", "no fit is stored that a whip could be added to", "run fit"))
    found = whip(session, label)
    if found.status == "planned":
        raise FitError(Finding("planned", f"{label} is only planned", "a planned whip takes no part in fits"))
    known, _ = whips_known_to(session, row)
    if label in known:
        text = f"fit {row.id} knows {label} already"
        raise AlreadyThereError(Finding("in-fit-already", text, "run fit to learn what changed in it"))
    cords = {cord.name: cord for cord in load_cords(session).values()}
    seen, reasons = observe(placed(found), cords)
    if not seen:
        why = REASONS.get(reasons[0], reasons[0]) if reasons else "it has no readings"
        text = f"no reading of {label} can take part: {why}"
        raise FitError(Finding("nothing-to-learn", text, "show LABEL says what a whip lacks"))
    findings = [
        Finding(
            "evidence-before",
            f"the evidence is that of fit {row.id}, from before {label} was added",
            "fit again when convenient",
        )
    ]
    if reasons:
        text = f"{len(reasons)} of its readings left out: {REASONS.get(reasons[0], reasons[0])}"
        findings.append(Finding("left-out", text, "show LABEL says what a whip lacks", label))
    calibration = updated(from_json(row.artefact), seen)
    kept = tuple(x for x in calibration.findings if x.code != findings[0].code)
    calibration = replace(calibration, findings=(*kept, findings[0]))
    # Where anything else changed since, the fit stays older than the records.
    alone = fingerprint_of(session, without=label) == row.fingerprint
    return Added(
        before=row.id,
        label=label,
        readings=len(seen),
        calibration=calibration,
        # What else is kept with the fit stays as it was.
        artefact={**row.artefact, **to_json(calibration), "records": with_added(row, [label])},
        evidence=row.evidence,
        fingerprint=fingerprint_of(session) if alone else row.fingerprint,
        findings=tuple(findings),
    )


def store_added(session: Session, added: Added) -> int:
    """Keep it as a new fit and put it in force; the one before stays. Gives its number.

    Raises
    ------
    AlreadyThereError
        Where another fit was put in force meanwhile.
    """
    current = session.scalars(select(FitRow.id).where(FitRow.current)).one_or_none()
    if current != added.before:
        text = f"fit {added.before} is no longer in force"
        raise AlreadyThereError(Finding("fit-changed", text, "try again"))
    session.execute(update(FitRow).where(FitRow.current).values(current=False))
    row = FitRow(
        code_version=added.calibration.code_version,
        fingerprint=added.fingerprint,
        artefact=added.artefact,
        evidence=added.evidence,
        current=True,
    )
    session.add(row)
    session.flush()
    return row.id
