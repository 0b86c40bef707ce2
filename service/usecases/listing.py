"""Lists by the page: every noun with its version, and its key where it has no name of its own.

Each page takes a fixed number of queries, however many there are of a noun. Names come in the order of
their characters' codes, whatever the language of the database; what has no name comes in order of entry.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from sqlalchemy import ColumnElement, Select, func, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, NotFoundError
from plaitlog.models.tables import (
    CordRow,
    CordStockRow,
    HistoryRow,
    MakerRow,
    RatingSessionRow,
    ReadingRow,
    ScoreRow,
    WhipRow,
)
from plaitlog.models.whip import CordStock
from plaitlog.service.usecases.from_rows import cord_from_row, rating_from_row, reading_from_row
from plaitlog.service.usecases.loading import labels_by_key
from plaitlog.service.usecases.to_records import (
    Record,
    cord_record,
    maker_record,
    rating_record,
    reading_record,
    stock_record,
    whip_record,
)
from plaitlog.service.usecases.workshop import (
    WhipInBrief,
    maker_with_version,
    not_found,
    whip_with_version,
    whips_in_brief,
)

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Page(Generic[Item]):
    """Some of ``total`` items, those from ``offset`` on."""

    items: Sequence[Item]
    total: int
    offset: int


@dataclass(frozen=True, slots=True)
class Stored:
    """One record as it stands in an export, with the version that an edit must name.

    ``key`` is the number of stock, a reading or a rating; None for what has a name.
    """

    record: Record
    version: int
    key: int | None = None


def list_makers(session: Session, limit: int, offset: int) -> Page[Stored]:
    versions = {row.name: row.version for row in session.execute(select(MakerRow.name, MakerRow.version))}
    names = sorted(versions)
    found = [Stored(maker_record(name), versions[name]) for name in names[offset : offset + limit]]
    return Page(found, len(names), offset)


def one_maker(session: Session, name: str) -> Stored:
    """NotFoundError with the nearest name."""
    version, _ = maker_with_version(session, name)
    return Stored(maker_record(name), version)


def list_cords(session: Session, limit: int, offset: int) -> Page[Stored]:
    names = sorted(session.scalars(select(CordRow.name)))
    wanted = names[offset : offset + limit]
    rows = session.execute(select(*CordRow.__table__.c).where(CordRow.name.in_(wanted)))
    found = {row.name: Stored(cord_record(cord_from_row(row)), row.version) for row in rows}
    return Page([found[name] for name in wanted], len(names), offset)


def one_cord(session: Session, name: str) -> Stored:
    """NotFoundError with the nearest name."""
    row = session.execute(select(*CordRow.__table__.c).where(CordRow.name == name)).one_or_none()
    if row is None:
        raise not_found("cord", name, session.scalars(select(CordRow.name)))
    return Stored(cord_record(cord_from_row(row)), row.version)


def list_whips(
    session: Session,
    limit: int,
    offset: int,
    *,
    maker: str | None = None,
    type: str | None = None,  # noqa: A002
    status: str | None = None,
) -> Page[tuple[WhipInBrief, int]]:
    """Whips in one line each, with their versions; of one maker, type or status where that is asked."""
    wanted = {"maker": maker, "type": type, "status": status}
    found = [
        brief
        for brief in whips_in_brief(session)
        if all(value is None or getattr(brief, key) == value for key, value in wanted.items())
    ]
    part = found[offset : offset + limit]
    labels = [brief.label for brief in part]
    rows = session.execute(select(WhipRow.label, WhipRow.version).where(WhipRow.label.in_(labels)))
    versions = {row.label: row.version for row in rows}
    return Page([(brief, versions[brief.label]) for brief in part], len(found), offset)


def one_whip(session: Session, label: str) -> Stored:
    """NotFoundError with the nearest label."""
    version, whip = whip_with_version(session, label)
    return Stored(whip_record(whip), version)


def list_stock(session: Session, limit: int, offset: int, *, cord: str | None = None) -> Page[Stored]:
    wanted = [] if cord is None else [CordRow.name == cord]
    return _page(session, _stock(*wanted), limit, offset, _stock_stored)


def one_stock(session: Session, key: int) -> Stored:
    return _one(session, _stock(CordStockRow.id == key), key, "stock", _stock_stored)


def list_readings(session: Session, limit: int, offset: int, *, whip: str | None = None) -> Page[Stored]:
    return _page(session, _readings(*_of(whip)), limit, offset, _readings_stored)


def one_reading(session: Session, key: int) -> Stored:
    return _one(session, _readings(ReadingRow.id == key), key, "reading", _readings_stored)


def list_ratings(session: Session, limit: int, offset: int, *, whip: str | None = None) -> Page[Stored]:
    return _page(session, _ratings(*_of(whip)), limit, offset, _ratings_stored)


def one_rating(session: Session, key: int) -> Stored:
    return _one(session, _ratings(RatingSessionRow.id == key), key, "rating", _ratings_stored)


def latest_change(session: Session) -> int | None:
    """Number of the change that was made last; None where nothing was ever changed."""
    return session.scalar(select(func.max(HistoryRow.id)))


def _of(whip: str | None) -> list[ColumnElement[bool]]:
    return [] if whip is None else [WhipRow.label == whip]


def _page(session: Session, query: Select[Any], limit: int, offset: int, stored: Any) -> Page[Stored]:
    total = session.scalar(select(func.count()).select_from(query.order_by(None).subquery())) or 0
    return Page(stored(session, session.execute(query.limit(limit).offset(offset)).all()), total, offset)


def _one(session: Session, query: Select[Any], key: int, kind: str, stored: Any) -> Stored:
    rows = session.execute(query).all()
    if not rows:
        raise NotFoundError(Finding(f"{kind}-not-found", f"no {kind} has the number {key}", "list them"))
    found: list[Stored] = stored(session, rows)
    return found[0]


def _stock(*wanted: ColumnElement[bool]) -> Select[Any]:
    query = select(*CordStockRow.__table__.c, CordRow.name.label("cord"))
    return query.join(CordRow, CordRow.id == CordStockRow.cord_id).where(*wanted).order_by(CordStockRow.id)


def _readings(*wanted: ColumnElement[bool]) -> Select[Any]:
    query = select(*ReadingRow.__table__.c, WhipRow.label.label("label"))
    return query.join(WhipRow, WhipRow.id == ReadingRow.whip_id).where(*wanted).order_by(ReadingRow.id)


def _ratings(*wanted: ColumnElement[bool]) -> Select[Any]:
    query = select(*RatingSessionRow.__table__.c, WhipRow.label.label("label"))
    joined = query.join(WhipRow, WhipRow.id == RatingSessionRow.whip_id)
    return joined.where(*wanted).order_by(RatingSessionRow.id)


def _stock_stored(session: Session, rows: Sequence[Any]) -> list[Stored]:
    return [
        Stored(
            stock_record(
                CordStock(
                    cord=row.cord,
                    colour=row.colour,
                    lot=row.lot,
                    metres=row.metres,
                    price_per_m=row.price_per_m,
                    notes=row.notes,
                )
            ),
            row.version,
            row.id,
        )
        for row in rows
    ]


def _readings_stored(session: Session, rows: Sequence[Any]) -> list[Stored]:
    return [Stored(reading_record(row.label, reading_from_row(row)), row.version, row.id) for row in rows]


def _ratings_stored(session: Session, rows: Sequence[Any]) -> list[Stored]:
    keys = [row.id for row in rows]
    scores: dict[int, list[Any]] = {key: [] for key in keys}
    found = select(*ScoreRow.__table__.c).where(ScoreRow.session_id.in_(keys)).order_by(ScoreRow.id)
    for score in session.execute(found):
        scores[score.session_id].append(score)
    beside = labels_by_key(session, {row.compared_with_id for row in rows} - {None})
    return [
        Stored(rating_record(row.label, rating_from_row(row, scores[row.id], beside)), row.version, row.id)
        for row in rows
    ]
