"""Hours of work of a whip, as the recorded hours of the workshop teach them at the time of asking."""

from typing import Final

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.hours import ExpectedHours, Pace, learn_pace
from plaitlog.models.tables import WhipRow
from plaitlog.service.usecases.loading import load_whips
from plaitlog.service.usecases.workshop import cords_by_name

LATEST: Final = 200
"""How many finished whips, the last recorded with hours, are learnt from (own choice: 0.1 s)."""


def pace_of_workshop(session: Session, at_most: int = LATEST) -> Pace:
    """Learnt from the latest finished whips on which hours are noted; with none, from the priors."""
    made = or_(WhipRow.status.is_(None), WhipRow.status == "finished")
    noted = select(WhipRow.id).where(WhipRow.hours.is_not(None), made)
    keys = session.scalars(noted.order_by(WhipRow.id.desc()).limit(at_most))
    return learn_pace(list(load_whips(session, list(keys)).values()), cords_by_name(session))


def hours_in_words(found: ExpectedHours, maker: str | None) -> str:
    """Such as: About 9 hours of work (90 %: 7 to 12), from 14 whips of Orrin."""
    hours = found.hours
    spread = f"{_said(hours.low_90)} to {_said(hours.high_90)}"
    return f"About {_said(hours.value)} hours of work (90 %: {spread}), {learnt_from(found, maker)}"


def learnt_from(found: ExpectedHours, maker: str | None) -> str:
    """Whose whips it rests on."""
    if not found.whips:
        return "a guess: no hours are recorded"
    of_all = _whips(found.whips)
    if found.of_maker == found.whips:
        return f"from {of_all}" + (f" of {maker}" if maker else "")
    if found.of_maker:
        return f"from {of_all}, {found.of_maker} of them " + (f"of {maker}" if maker else "without a maker")
    return f"from {of_all} of other hands"


def _whips(count: int) -> str:
    return "1 whip" if count == 1 else f"{count} whips"


def _said(hours: float) -> str:
    """To the half hour below ten, to the hour above."""
    return f"{round(hours * 2) / 2:g}" if hours < 10 else f"{hours:.0f}"
