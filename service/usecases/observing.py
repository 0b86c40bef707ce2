"""From a whip to what a fit learns from: every reading on a known stack, and why the others take no part."""

import hashlib
from collections.abc import Iterable, Mapping
from typing import Final
from weakref import WeakKeyDictionary

from sqlalchemy import ColumnElement, Pool, and_, func, or_, select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.observations import Observation
from plaitlog.models.errors import Finding, StackNotKnownError
from plaitlog.models.stack import stack_at
from plaitlog.models.tables import CordRow, HistoryRow, MakerRow, ReadingRow, WhipRow
from plaitlog.models.whip import Cord, Reading, Whip

REASONS: Final[Mapping[str, str]] = {
    "layers-open": "it is not noted that the listed layers are all there are",
    "schedule-unknown": "the strands of a layer are not noted",
    "schedule-open": "the strands of a layer are not noted that far",
    "cord-not-noted": "the cord of a layer is not noted",
    "cord-unknown": "the cord of a layer is not in the workshop",
    "past-point": "past the point",
    "layer-absent": "on a layer that does not run there",
    "empty-stack": "no layer runs there",
    "no-station": "a named place whose station is not known",
    "no-layers": "no layers are noted",
}
"""Why a reading takes no part, in words that follow "left out"."""
_NO_STATION: Final = Finding("no-station", "the reading names no station", "note where it was taken")


def observe(whip: Whip, cords: Mapping[str, Cord]) -> tuple[list[Observation], list[str]]:
    """The readings of a whip (placed) on known stacks, and for each other one a reason, a key of REASONS."""
    found: list[Observation] = []
    reasons: list[str] = []
    for reading in whip.readings:
        try:
            found.append(observation(whip, reading, cords))
        except StackNotKnownError as error:
            reasons.append(reason(whip, error))
    return found, reasons


def reason(whip: Whip, error: StackNotKnownError) -> str:
    """Why a reading of a whip takes no part: a key of REASONS."""
    return error.finding.code if whip.layers else "no-layers"


def observation(whip: Whip, reading: Reading, cords: Mapping[str, Cord]) -> Observation:
    """One reading with its stack; StackNotKnownError where the stack is not known."""
    if reading.at_mm is None:
        raise StackNotKnownError(_NO_STATION)
    return Observation(
        stack=stack_at(whip, reading.at_mm, cords, reading.after_layer),
        diameter_mm=reading.size_mm,
        whip=whip.label,
        maker=whip.maker,
        at_mm=reading.at_mm,
        method=reading.method,
        condition=reading.condition,
        inner=is_inner(whip, reading.after_layer),
        doubtful=reading.doubtful,
    )


def is_inner(whip: Whip, after_layer: int | None) -> bool:
    """Whether a layer was measured that others came to cover."""
    return after_layer is not None and after_layer < len(whip.layers)


def fingerprint_of(session: Session, without: str | None = None) -> str:
    """A short text that changes whenever what a fit learns from does: made whips, their readings, cords.

    It rests on versions and on sums of keys, so that asking is quick however much is recorded; an undo, which
    brings the old versions back, brings the old text back too. ``without``: the label of a whip that is
    taken as if it were not there.
    """
    if without is not None or not session.connection().get_execution_options().get("read_only"):
        return _worked_out(session, without)
    # Every change of what is recorded is a row of the history: while there is no other, the text is the same.
    known = select(func.count(HistoryRow.id), func.max(HistoryRow.id), func.max(HistoryRow.created_at))
    changes = tuple(session.execute(known).one())
    pool = session.connection().engine.pool
    kept = _kept.get(pool)
    if kept is None or kept[0] != changes:
        kept = _kept[pool] = changes, _worked_out(session, None)
    return kept[1]


_kept: WeakKeyDictionary[Pool, tuple[tuple[object, ...], str]] = WeakKeyDictionary()
"""By database the changes there were when its text was worked out, and the text: sessions that only read."""


def _worked_out(session: Session, without: str | None) -> str:
    digest = hashlib.sha256()
    there = is_made() if without is None else and_(is_made(), WhipRow.label != without)
    whips = select(WhipRow.label, WhipRow.version).where(there).order_by(WhipRow.label)
    cords = select(CordRow.name, CordRow.version).order_by(CordRow.name)
    makers = select(MakerRow.name, MakerRow.version).order_by(MakerRow.name)
    readings = (
        select(
            func.count(ReadingRow.id),
            func.max(ReadingRow.id),
            func.sum(ReadingRow.id),
            func.sum(ReadingRow.version),
        )
        .join(WhipRow, WhipRow.id == ReadingRow.whip_id)
        .where(there)
    )
    for query in (whips, makers, cords, readings):
        _add(digest, (tuple(row) for row in session.execute(query)))
    return digest.hexdigest()[:16]


def _add(digest: "hashlib._Hash", rows: Iterable[tuple[object, ...]]) -> None:
    for row in rows:
        digest.update(repr(row).encode())
    digest.update(b"\n")


def is_made() -> ColumnElement[bool]:
    """Whether a whip is no mere plan."""
    return or_(WhipRow.status.is_(None), WhipRow.status != "planned")
