"""What a fit is worth, gathered for its report: evidence, thin cords, odd readings, what to do next."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from plaitlog.models.calibration.artifact import from_json
from plaitlog.models.calibration.calibrated import Calibration
from plaitlog.models.calibration.evidence import Evidence
from plaitlog.models.calibration.likely_causes import Explained, explained
from plaitlog.models.calibration.observations import Observation, Suspect
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.single_readings import observations
from plaitlog.models.calibration.stack_columns import PLAIT
from plaitlog.models.counted import counted
from plaitlog.models.tables import FitRow
from plaitlog.models.whip import Cord
from plaitlog.service.reports.fit_report import CordInFit, FitReport, OddReading, Proposed, Worth
from plaitlog.service.usecases.cords.advising import best_test_plait
from plaitlog.service.usecases.cords.worth import what_it_buys
from plaitlog.service.usecases.fitting import left_out_findings, not_found
from plaitlog.service.usecases.gathering import Gathered, gather
from plaitlog.service.usecases.loading import load_cords
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.wanted_stacks import maker_of_most
from plaitlog.service.usecases.weighing import evidence_of

MOST_CORDS: Final = 40
MOST_ODD: Final = 30
"""Cords and odd readings in one report; it says how many there are."""
MOST_TRIED: Final = 12
MOST_PROPOSED: Final = 3
FEW_READINGS, FEW_WHIPS, FEW_COUNTS = 10, 3, 2
"""Below these a cord is called thin (own judgement): a whip's pull moves all its readings together, and one
strand count says nothing about how the cord lies in a closer or a looser plait."""


def report_of(
    session: Session,
    number: int,
    shown: ShownUnits,
    gathered: Gathered | None = None,
    *,
    with_plaits: bool = True,
) -> FitReport:
    """The report on a stored fit; ``gathered``: the records it was made from, else they are gathered now.

    with_plaits : whether test plaits are weighed, which takes most of the time; without, none is proposed.

    Raises
    ------
    NotFoundError
        With the numbers there are.
    ArtifactError
        Where the stored fit does not reproduce its own objective.
    """
    row = session.get(FitRow, number)
    if row is None:
        raise not_found(session, number)
    now = gather(session) if gathered is None else gathered
    calibration = from_json(row.artefact)
    in_force = InForce(calibration, row.id)
    cords = sorted(load_cords(session).values(), key=lambda cord: cord.name)
    odd = odd_readings(calibration, now.readings)
    found = cords_in_fit(in_force, now.readings, cords)
    by_name = {cord.name: cord for cord in cords}
    hands = maker_of_most(calibration)
    return FitReport(
        number=row.id,
        made_at=row.created_at,
        code_version=row.code_version,
        fingerprint=row.fingerprint,
        current=row.current,
        records_changed=row.fingerprint != now.fingerprint,
        readings=calibration.readings,
        whips=calibration.whips,
        makers=len([maker for maker in calibration.makers if maker]),
        evidence=None if row.evidence is None else Evidence.from_dict(row.evidence),
        cords=found,
        cords_in_all=len(cords),
        hands=hands,
        odd=odd,
        odd_in_all=len(calibration.suspects),
        test_plaits=plaits_worth_making(in_force, found, by_name, shown) if with_plaits else (),
        weighing=evidence_of(row.artefact.get("weighing")),
        findings=(*calibration.findings, *left_out_findings(now)),
        shown=shown,
    )


def cords_in_fit(in_force: InForce, data: Readings, cords: Sequence[Cord]) -> tuple[CordInFit, ...]:
    """The cords of the workshop, the widest interval first; at most 40, of which those with most readings."""
    taught = teaching(data)
    by_readings = sorted(cords, key=lambda cord: -taught.get(cord.name, (0, 0, 0))[0])
    found = [_cord(in_force, cord, *taught.get(cord.name, (0, 0, 0))) for cord in by_readings[:MOST_CORDS]]
    return tuple(sorted(found, key=lambda cord: -cord.half_width))


def _cord(in_force: InForce, cord: Cord, readings: int, whips: int, counts: int) -> CordInFit:
    told = what_it_buys(in_force, cord, maker_of_most(in_force.calibration))
    return CordInFit(
        name=cord.name,
        readings=readings,
        whips=whips,
        counts=counts,
        thin=thin_in(readings, whips, counts),
        core=told.core,
        overlay=told.overlay,
        diameter_mm=told.prediction.diameter_mm,
        low_90_mm=told.prediction.low_90_mm,
        high_90_mm=told.prediction.high_90_mm,
        worth=tuple(
            Worth(
                measurement=gain.key,
                how=gain.how,
                low_90_mm=gain.after.low_90_mm,
                high_90_mm=gain.after.high_90_mm,
                words=gain.words,
                tells=gain.tells,
            )
            for gain in told.gains
        ),
    )


def plaits_worth_making(
    in_force: InForce, cords: Sequence[CordInFit], known: Mapping[str, Cord], shown: ShownUnits
) -> tuple[Proposed, ...]:
    """The three test plaits that narrow most what their cord is wanted for; cords with the widest intervals
    are tried, at most 12."""
    found = [best_test_plait(in_force, known[one.name]) for one in cords[:MOST_TRIED]]
    there = [advice for advice in found if advice is not None and advice.best is not None]
    there.sort(key=lambda advice: -advice.proposals[0].worth.narrower)
    return tuple(
        Proposed(words=" ".join(advice.sentences(shown)[:2]), data=advice.to_json(shown))
        for advice in there[:MOST_PROPOSED]
    )


def thin_in(readings: int, whips: int, counts: int) -> tuple[str, ...]:
    """What a cord has little of, in words."""
    if not readings:
        return ("no reading",)
    found = []
    if readings < FEW_READINGS:
        found.append(f"only {counted(readings, 'reading')}")
    if whips < FEW_WHIPS:
        found.append("one whip only" if whips == 1 else f"only {whips} whips")
    if counts < FEW_COUNTS:
        found.append("never plaited" if counts == 0 else "one strand count only")
    return tuple(found)


def teaching(data: Readings) -> Mapping[str, tuple[int, int, int]]:
    """By cord: readings on stacks that contain it, whips, and different strand counts in plaited layers."""
    stacks = data.stacks
    present = stacks.group_high > 0
    names, code = np.unique([cord.name for cord in stacks.cords], return_inverse=True)
    if not len(names) or not present.any():
        return {}
    cord = code.reshape(-1)[stacks.group_cord[present]]
    row = stacks.group_row[present]
    step = int(max(stacks.layer_place.max(initial=0), stacks.group_place.max(initial=0))) + 1
    layers = stacks.layer_row * step + stacks.layer_place
    order = np.argsort(layers)
    here = order[np.searchsorted(layers[order], row * step + stacks.group_place[present])]
    plaited = stacks.layer_kind[here] == PLAIT
    count = np.round(stacks.group_low[present] + stacks.group_high[present]).astype(np.int64)
    size = len(names)
    readings = _each(cord, row, size)
    whips = _each(cord, data.whip[row].astype(np.int64), size)
    counts = _each(cord[plaited], count[plaited], size)
    return {
        str(name): (int(n), int(w), int(c))
        for name, n, w, c in zip(names, readings, whips, counts, strict=True)
        if n
    }


def _each(cord: np.ndarray, what: np.ndarray, size: int) -> np.ndarray:
    """How many different things go with each cord."""
    if not len(cord):
        return np.zeros(size, dtype=np.int64)
    pairs = np.unique(what * size + cord)
    return np.bincount(pairs % size, minlength=size)


def odd_readings(calibration: Calibration, data: Readings) -> tuple[OddReading, ...]:
    """The readings that fit worst, at most 30, each with the likeliest slip; those still recorded."""
    worst = sorted(calibration.suspects, key=lambda suspect: -abs(suspect.residual_log))[:MOST_ODD]
    place = {label: k for k, label in enumerate(data.whips)}
    labels = sorted({suspect.whip for suspect in worst if suspect.whip in place})
    whips: dict[str, list[Observation]] = {label: [] for label in labels}
    if labels:
        for one in observations(data.of_whips(np.array([place[label] for label in labels]))):
            whips[one.whip].append(one)
    odd = {
        label: [one for s in calibration.suspects if s.whip == label for one in _meant(s, there)]
        for label, there in whips.items()
    }
    found = []
    for suspect in worst:
        there = whips.get(suspect.whip, [])
        meant = _meant(suspect, there)
        if meant:
            told = explained(calibration, meant[0], there, odd[suspect.whip])
            found.append(_odd(suspect, told))
    return tuple(found)


def _meant(suspect: Suspect, whip: Sequence[Observation]) -> list[Observation]:
    """The reading that a suspect is, none where it was changed or removed since."""
    return [
        one
        for one in whip
        if one.at_mm == suspect.at_mm and abs(one.diameter_mm - suspect.diameter_mm) < 1e-9
    ]


def _odd(suspect: Suspect, told: Explained) -> OddReading:
    found = OddReading(
        whip=suspect.whip,
        at_mm=suspect.at_mm,
        diameter_mm=suspect.diameter_mm,
        expected_mm=told.expected_mm,
        low_90_mm=told.low_90_mm,
        high_90_mm=told.high_90_mm,
    )
    if told.cause is None:
        return found
    return replace(found, **asdict(told.cause))
