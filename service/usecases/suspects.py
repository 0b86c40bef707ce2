"""Readings that do not fit, to be decided on: marked as doubtful, or looked at again and left as they are.

That a reading was left is no part of the record and makes no fit older than it; a reading that is edited
afterwards is to be decided on anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from plaitlog.models.tables import DraftRow, ReadingRow, WhipRow
from plaitlog.service.reports.fit_report import OddReading
from plaitlog.service.usecases.from_rows import reading_from_row
from plaitlog.service.usecases.workshop import reading_by_key

LEFT: Final = "readings-left"


@dataclass(frozen=True, slots=True)
class Standing:
    """How a reading stands: its number and version, whether it is marked doubtful, whether it was left."""

    key: int
    version: int
    doubtful: bool
    left: bool

    @property
    def decided(self) -> bool:
        return self.doubtful or self.left


def standings(session: Session, odd: Sequence[OddReading]) -> list[Standing | None]:
    """How each of some odd readings stands; None where it is not found as it was."""
    rows = session.execute(
        select(WhipRow.label, *ReadingRow.__table__.c)
        .join(WhipRow, WhipRow.id == ReadingRow.whip_id)
        .where(WhipRow.label.in_({one.whip for one in odd}))
        .order_by(ReadingRow.id)
    ).all()
    left = _left(session)
    of_whip: dict[str, list[tuple[float | None, float, Standing]]] = {}
    for row in rows:
        size_mm = reading_from_row(row).size_mm
        standing = Standing(row.id, row.version, row.doubtful, left.get(str(row.id)) == row.version)
        of_whip.setdefault(row.label, []).append((row.at_mm, size_mm, standing))
    return [_meant(one, of_whip.get(one.whip, [])) for one in odd]


def _meant(one: OddReading, there: Sequence[tuple[float | None, float, Standing]]) -> Standing | None:
    """The reading of this size at this station, else at a named place, whose station is worked out."""
    same = [(at, standing) for at, size, standing in there if abs(size - one.diameter_mm) < 1e-9]
    exact = [standing for at, standing in same if at == one.at_mm]
    placed = [standing for at, standing in same if at is None]
    return next(iter([*exact, *placed]), None)


def leave(session: Session, key: int) -> None:
    """Note that a reading was looked at again and stays as it is; NotFoundError."""
    version, _, _ = reading_by_key(session, key)
    _keep(session, {**_left(session), str(key): version})


def ask_again(session: Session, key: int) -> None:
    """Forget that a reading was left."""
    _keep(session, {other: version for other, version in _left(session).items() if other != str(key)})


def _left(session: Session) -> dict[str, int]:
    """Numbers of readings that were left, each with its version then."""
    row = session.scalars(select(DraftRow).where(DraftRow.token == LEFT)).one_or_none()
    return {} if row is None else dict(row.content)


def _keep(session: Session, left: dict[str, int]) -> None:
    row = session.scalars(select(DraftRow).where(DraftRow.token == LEFT)).one_or_none()
    if row is None:
        session.add(DraftRow(token=LEFT, kind=LEFT, title="Readings left as they are", content=left))
    else:
        row.content = left
