"""From a question as it is typed in a form to the answer as plain data."""

from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import RatingSessionRow, WhipRow
from plaitlog.models.whip import QUALITIES, Whip
from plaitlog.service.reports.handling_content import content
from plaitlog.service.usecases.handling.answer import Progress, Question, handling, qualities_meant
from plaitlog.service.usecases.handling.reporting import report_of
from plaitlog.service.usecases.observing import is_made
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import whip

CANDIDATES: Final = 8
"""Whips that are only planned yet and are compared by what they would teach, where none are named."""


def asked_of(session: Session, typed: Mapping[str, str]) -> Question:
    """The question of the texts "quality", "type", "everything", "like" and "try" (labels, comma between).

    Without a quality it is about "overall", or with everything about all of them. Where no whip to try is
    named the latest ones that are only planned are compared.

    Raises
    ------
    InputError
        A quality or a label that is not known.
    """
    everything = bool(typed.get("everything"))
    unnamed = QUALITIES if everything else ("overall",)
    named = typed.get("quality", "")
    labels = [label.strip() for label in typed.get("try", "").split(",") if label.strip()]
    like = typed.get("like", "")
    return Question(
        qualities=qualities_meant([named]) if named else unnamed,
        type=typed.get("type") or None,
        everything=everything,
        like=whip(session, like) if like else None,
        candidates=tuple(whip(session, label) for label in labels) or _planned(session),
    )


def answer_content(
    session: Session,
    question: Question,
    shown: ShownUnits,
    progress: Progress = lambda what, done, of: None,
) -> dict[str, Any]:
    """The answer in words, tables and pictures, as plain data; errors as of ``handling``."""
    return content(report_of(handling(session, question, progress=progress), shown))


def rated_whips(session: Session) -> int:
    """How many whips are rated."""
    judged = exists().where(RatingSessionRow.whip_id == WhipRow.id)
    return session.scalar(select(func.count(WhipRow.id)).where(is_made(), judged)) or 0


def types_rated(session: Session) -> list[str]:
    """The types of which whips are rated, by name."""
    judged = exists().where(RatingSessionRow.whip_id == WhipRow.id)
    query = select(WhipRow.type).where(is_made(), judged, WhipRow.type.is_not(None)).distinct()
    return sorted(type_ for type_ in session.scalars(query) if type_)


def _planned(session: Session) -> tuple[Whip, ...]:
    query = select(WhipRow.label).where(WhipRow.status == "planned").order_by(WhipRow.id.desc())
    return tuple(whip(session, label) for label in session.scalars(query.limit(CANDIDATES)))
