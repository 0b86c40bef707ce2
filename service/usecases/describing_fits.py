"""What there is to fit: a line for each stored fit, and what is recorded where there is none yet."""

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import ReadingRow, WhipRow
from plaitlog.service.usecases.observing import is_made


@dataclass(frozen=True, slots=True)
class Recorded:
    """Made whips, those of them with readings, and their readings."""

    whips: int
    with_readings: int
    readings: int


def recorded(session: Session) -> Recorded:
    """What a fit could be made from, counted; whether the stacks are known is not asked."""
    whips = session.scalar(select(func.count(WhipRow.id)).where(is_made())) or 0
    measured = (
        select(func.count(func.distinct(ReadingRow.whip_id)), func.count(ReadingRow.id))
        .join(WhipRow, WhipRow.id == ReadingRow.whip_id)
        .where(is_made())
    )
    with_readings, readings = session.execute(measured).one()
    return Recorded(whips, with_readings, readings)
