"""Which whips are made of a cord."""

from dataclasses import dataclass
from typing import Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.tables import CordRow, LayerCordRow, LayerRow, MakerRow, ReadingRow, WhipRow

SHOWN: Final = 40


@dataclass(frozen=True, slots=True)
class WhipOfCord:
    """One whip that a cord lies in, and in which layers."""

    label: str
    maker: str | None
    type: str | None
    status: str | None
    roles: tuple[str, ...]
    readings: int


@dataclass(frozen=True, slots=True)
class WhipsOfCord:
    """The whips recorded last, and how many there are in all."""

    whips: tuple[WhipOfCord, ...]
    total: int


def whips_of_cord(session: Session, name: str, at_most: int = SHOWN) -> WhipsOfCord:
    """Whips in which a cord lies, those recorded last first."""
    inside = (
        select(LayerRow.whip_id)
        .join(LayerCordRow, LayerCordRow.layer_id == LayerRow.id)
        .join(CordRow, CordRow.id == LayerCordRow.cord_id)
        .where(CordRow.name == name)
    )
    total = session.scalar(select(func.count()).select_from(WhipRow).where(WhipRow.id.in_(inside))) or 0
    readings = select(func.count(ReadingRow.id)).where(ReadingRow.whip_id == WhipRow.id).scalar_subquery()
    rows = session.execute(
        select(WhipRow.id, WhipRow.label, MakerRow.name, WhipRow.type, WhipRow.status, readings)
        .outerjoin(MakerRow, MakerRow.id == WhipRow.maker_id)
        .where(WhipRow.id.in_(inside))
        .order_by(WhipRow.id.desc())
        .limit(at_most)
    ).all()
    roles: dict[int, list[str]] = {row[0]: [] for row in rows}
    layers = (
        select(LayerRow.whip_id, LayerRow.role)
        .join(LayerCordRow, LayerCordRow.layer_id == LayerRow.id)
        .join(CordRow, CordRow.id == LayerCordRow.cord_id)
        .where(CordRow.name == name, LayerRow.whip_id.in_(list(roles)))
        .order_by(LayerRow.id)
    )
    for whip, role in session.execute(layers):
        if role not in roles[whip]:
            roles[whip].append(role)
    found = [
        WhipOfCord(label, maker, kind, status, tuple(roles[key]), count)
        for key, label, maker, kind, status, count in rows
    ]
    return WhipsOfCord(tuple(found), total)
