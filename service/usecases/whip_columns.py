"""What the list of whips shows of each, as SQL: one expression a column, to show by and to sort by.

All are of one row of ``whips``; what lies in other tables is a scalar subquery, so that the number of
queries is the same for one whip as for thousands.
"""

import math
from typing import Any, Final

from sqlalchemy import ColumnElement, and_, case, false, func, or_, select

from plaitlog.models.tables import MakerRow, RatingSessionRow, ReadingRow, ScoreRow, WeightRow, WhipRow
from plaitlog.models.whip import TAPE_MM


def _maker() -> ColumnElement[Any]:
    return select(MakerRow.name).where(MakerRow.id == WhipRow.maker_id).scalar_subquery()


def _readings() -> ColumnElement[Any]:
    return select(func.count(ReadingRow.id)).where(ReadingRow.whip_id == WhipRow.id).scalar_subquery()


def _weight() -> ColumnElement[Any]:
    """Of the whole whip, as it is kept first in its record."""
    of_whole = and_(WeightRow.whip_id == WhipRow.id, WeightRow.after_layer.is_(None))
    return select(WeightRow.weight_g).where(of_whole).order_by(WeightRow.id).limit(1).scalar_subquery()


def _overall() -> ColumnElement[Any]:
    """The mean over the sessions in which it was given."""
    mean = select(func.avg(ScoreRow.score)).join(RatingSessionRow, RatingSessionRow.id == ScoreRow.session_id)
    return mean.where(RatingSessionRow.whip_id == WhipRow.id, ScoreRow.quality == "overall").scalar_subquery()


_SIZE: Final = func.coalesce(
    ReadingRow.diameter_mm,
    ReadingRow.girth_mm / math.pi - func.coalesce(ReadingRow.tape_mm, TAPE_MM),
)
_START: Final = case((WhipRow.datum == "butt", WhipRow.handle_length_mm), else_=0.0)
_MIDDLE: Final = _START + WhipRow.thong_length_mm / 2
_POINT: Final = _START + WhipRow.thong_length_mm


def _end(place: str, half: ColumnElement[bool], nearest: ColumnElement[Any]) -> ColumnElement[Any]:
    """The reading on the finished whip nearest to an end, in the half of the thong that ends there."""
    trusted = and_(
        ReadingRow.whip_id == WhipRow.id, ReadingRow.after_layer.is_(None), ReadingRow.doubtful == false()
    )
    found = select(_SIZE).where(trusted, or_(ReadingRow.place == place, half))
    first = case((ReadingRow.place == place, 0), else_=1)
    # Of several at one place the last: that is how the whip is now.
    return found.order_by(first, nearest, ReadingRow.id.desc()).limit(1).scalar_subquery()


def _thick() -> ColumnElement[Any]:
    half = and_(
        ReadingRow.at_mm >= _START, or_(ReadingRow.at_mm < _MIDDLE, WhipRow.thong_length_mm.is_(None))
    )
    return _end("thick", half, ReadingRow.at_mm.asc())


def _point() -> ColumnElement[Any]:
    half = and_(ReadingRow.at_mm >= _MIDDLE, ReadingRow.at_mm <= _POINT)
    return _end("point", half, ReadingRow.at_mm.desc())


COLUMNS: Final[dict[str, ColumnElement[Any]]] = {
    "label": WhipRow.label.expression,
    "type": WhipRow.type.expression,
    "maker": _maker(),
    "status": WhipRow.status.expression,
    "made_on": WhipRow.made_on.expression,
    "thong_length_mm": WhipRow.thong_length_mm.expression,
    "thick_mm": _thick(),
    "point_mm": _point(),
    "weight_g": _weight(),
    "overall": _overall(),
    "readings": _readings(),
    "hours": WhipRow.hours.expression,
    "recorded": WhipRow.created_at.expression,
    "notes": WhipRow.notes.expression,
}
"""In the order of the list; beside these a whip has cords, which cannot be sorted by."""
