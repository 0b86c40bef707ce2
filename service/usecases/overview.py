"""How the workshop stands: what is in it, what its fit knows, and the one thing that would help most now."""

import datetime as dt
from dataclasses import dataclass
from typing import Any, Literal

from sqlalchemy import ColumnElement, and_, func, not_, or_, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import (
    CordRow,
    DraftRow,
    FitRow,
    HistoryRow,
    MakerRow,
    RatingSessionRow,
    ReadingRow,
    ScoreRow,
    WhipRow,
)
from plaitlog.service.usecases.changes.undoing import undone_changes
from plaitlog.service.usecases.observing import fingerprint_of, is_made
from plaitlog.service.usecases.predicting import anything_left

ENOUGH_TO_FIT = 12
"""Readings from which making a first fit is proposed (own choice: two or three whips)."""
UNFINISHED = 20
DEMO = "demo workshop"
"""What the import of the invented workshop is called in the history."""


@dataclass(frozen=True, slots=True)
class Counts:
    """How many there are of each."""

    whips: int
    cords: int
    makers: int
    readings: int
    ratings: int
    changes: int
    fits: int


@dataclass(frozen=True, slots=True)
class FitState:
    """The fit in force. stale: what it learns from changed since. unknown: whips that are new to it."""

    number: int
    created_at: dt.datetime
    readings: int
    whips: int
    stale: bool
    unknown: int


@dataclass(frozen=True, slots=True)
class Next:
    """What would help most now, and the whip that it is about."""

    what: Literal["record", "measure", "fit", "refit", "rate", "gaps"]
    label: str = ""


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A form that was begun: of a whip to be recorded, or of a plan; ``token`` names it in addresses."""

    kind: str
    title: str
    token: str
    changed_at: dt.datetime


def unfinished(session: Session) -> list[Unfinished]:
    """Forms that were begun and are to be gone on with, the latest first; what they hold is not read."""
    columns = (DraftRow.kind, DraftRow.title, DraftRow.token, DraftRow.changed_at)
    wanted = select(*columns).where(DraftRow.kind.in_(("record", "plan")))
    rows = session.execute(wanted.order_by(DraftRow.changed_at.desc(), DraftRow.id.desc()).limit(UNFINISHED))
    return [Unfinished(*row) for row in rows]


def counts(session: Session) -> Counts:
    """Counted in one query."""
    tables: tuple[Any, ...] = (WhipRow, CordRow, MakerRow, ReadingRow, RatingSessionRow, HistoryRow, FitRow)
    return Counts(*session.execute(select(*(_count(table) for table in tables))).one())


def fit_state(session: Session) -> FitState | None:
    """How the fit in force stands to the records; None where there is none, or nothing is left of it."""
    artefact = FitRow.artefact
    kept = session.execute(
        select(
            FitRow.id,
            FitRow.created_at,
            FitRow.fingerprint,
            artefact["readings"].as_integer(),
            artefact["whips"].as_integer(),
            artefact["records"]["last_reading"].as_integer(),
            artefact["records"]["added"],
        ).where(FitRow.current)
    ).one_or_none()
    if kept is None:
        return None
    number, created_at, fingerprint, readings, whips, last, added = kept
    stale = fingerprint != fingerprint_of(session)
    if stale and not added and not anything_left(session, last or 0):
        return None
    unknown = _unknown(session, last or 0, tuple(added or ())) if stale else 0
    return FitState(number, created_at, readings or 0, (whips or 0), stale, unknown)


def next_thing(session: Session, found: Counts, fit: FitState | None) -> Next:
    """The one thing that would help most now, judged by what is missing altogether."""
    if not found.whips:
        return Next("record")
    if fit is None and found.readings >= ENOUGH_TO_FIT:
        return Next("fit")
    if fit is not None and fit.unknown:
        return Next("refit")
    read = select(ReadingRow.id).where(ReadingRow.whip_id == WhipRow.id).exists()
    if (label := _latest(session, not_(read))) is not None:
        return Next("measure", label)
    scored = (
        select(ScoreRow.id)
        .join(RatingSessionRow, RatingSessionRow.id == ScoreRow.session_id)
        .where(RatingSessionRow.whip_id == WhipRow.id)
        .exists()
    )
    if (label := _latest(session, and_(not_(scored), _is_thrown()))) is not None:
        return Next("rate", label)
    return Next("gaps") if fit is not None else Next("record")


def last_reading(session: Session) -> int:
    """Key of the latest reading; 0 where there is none."""
    return session.scalar(select(func.max(ReadingRow.id))) or 0


def demo_change(session: Session) -> int | None:
    """Number of the change that brought in the invented workshop, where it holds."""
    undone = undone_changes(session)
    found = select(HistoryRow.id).where(HistoryRow.action == "import", HistoryRow.subject == DEMO)
    return next(
        (key for key in session.scalars(found.order_by(HistoryRow.id.desc())) if key not in undone), None
    )


def _count(table: Any) -> Any:
    return select(func.count(table.id)).scalar_subquery()


def _unknown(session: Session, last_reading: int, added: tuple[str, ...]) -> int:
    """Made whips all of whose readings are younger than the fit."""
    first = func.min(ReadingRow.id)
    new = (
        select(WhipRow.id)
        .join(ReadingRow, ReadingRow.whip_id == WhipRow.id)
        .where(is_made(), WhipRow.label.not_in(added))
        .group_by(WhipRow.id)
        .having(first > last_reading)
    )
    return session.scalar(select(func.count()).select_from(new.subquery())) or 0


def _latest(session: Session, which: ColumnElement[bool]) -> str | None:
    """The finished whip recorded last that is so."""
    finished = and_(WhipRow.status == "finished", which)
    return session.scalar(select(WhipRow.label).where(finished).order_by(WhipRow.id.desc()).limit(1))


def _is_thrown() -> ColumnElement[bool]:
    return or_(WhipRow.type.is_(None), WhipRow.type != "test plait")
