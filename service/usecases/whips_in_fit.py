"""Which whips a stored fit knows: those that had readings when it was made, and those added to it since."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.tables import FitRow, ReadingRow, WhipRow
from plaitlog.service.usecases.observing import is_made


def whips_known_to(session: Session, fit: FitRow) -> tuple[list[str], list[str]]:
    """Labels of made whips with readings, the earliest first: those the fit knows, those it does not.

    A whip of which the fit knows some readings counts as known to it. Order is by the day it was made,
    undated ones before, then as they were recorded.
    """
    kept = records_of(fit)
    last, added = int(kept["last_reading"]), frozenset(kept.get("added", ()))
    rows = session.execute(
        select(WhipRow.label, func.min(ReadingRow.id))
        .join(ReadingRow, ReadingRow.whip_id == WhipRow.id)
        .where(is_made())
        .group_by(WhipRow.id, WhipRow.label, WhipRow.made_on)
        .order_by(WhipRow.made_on.is_not(None), WhipRow.made_on, WhipRow.id)
    ).all()
    known = [label for label, first in rows if first <= last or label in added]
    new = [label for label, first in rows if first > last and label not in added]
    return known, new


def whips_unknown(session: Session, number: int) -> list[str] | None:
    """Labels of made whips with readings that a stored fit does not know, the earliest first.

    None where it was stored before that was kept.
    """
    row = session.get_one(FitRow, number)
    return whips_known_to(session, row)[1] if "records" in row.artefact else None


def records_of(fit: FitRow) -> dict[str, Any]:
    """What is kept with a fit about the records it was made from.

    Raises
    ------
    InputError
        Where it was stored before that was kept.
    """
    found: dict[str, Any] | None = fit.artefact.get("records")
    if found is None:
        raise InputError(
            Finding("fit-too-old", f"fit {fit.id} does not tell which whips it knows", "run fit once more")
        )
    return found


def with_added(fit: FitRow, labels: Sequence[str]) -> dict[str, Any]:
    """The same about the records, with whips that are added to the fit."""
    kept = records_of(fit)
    return {**kept, "added": [*kept.get("added", ()), *labels]}
