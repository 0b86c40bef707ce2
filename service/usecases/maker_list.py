"""Makers with what they made, in one query."""

import datetime as dt
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import MakerRow, WhipRow


@dataclass(frozen=True, slots=True)
class MakerLine:
    """One maker: how many whips name them, and the day the last of these was made."""

    name: str
    whips: int
    last: dt.date | None


def maker_list(session: Session) -> list[MakerLine]:
    """Every maker, by name."""
    rows = session.execute(
        select(MakerRow.name, func.count(WhipRow.id), func.max(WhipRow.made_on))
        .outerjoin(WhipRow, WhipRow.maker_id == MakerRow.id)
        .group_by(MakerRow.id, MakerRow.name)
    )
    return sorted((MakerLine(*row) for row in rows), key=lambda maker: maker.name)
