"""Removing what is recorded, with all that is part of it; every removal can be undone."""

from collections.abc import Iterable
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding
from plaitlog.models.tables import (
    CordRow,
    CordUseRow,
    LayerCordRow,
    LayerRow,
    MakerRow,
    RatingSessionRow,
    WhipRow,
)
from plaitlog.service.usecases import storing, storing_measured
from plaitlog.service.usecases.changes.edit_checks import finished, refuse
from plaitlog.service.usecases.changes.edited_records import Edited, refuse_stale
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.loading import cord_keys, maker_keys, whip_keys
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
    cord_with_version,
    maker_with_version,
    rating_by_key,
    ratings_with_keys,
    reading_by_key,
    stock_by_key,
    stock_with_keys,
    whip_with_version,
)

NAMED_AT_MOST: Final = 5


def remove_maker(
    session: Session, name: str, *, version: int | None = None, actor: str | None = None
) -> Edited:
    """Remove a maker whom no whip names; RecordError names the whips that do."""
    stored, _ = maker_with_version(session, name)
    record = maker_record(name)
    refuse_stale(f"maker {name}", record, None, version, stored)
    _refuse_used(
        f"maker {name!r}",
        session.scalars(select(WhipRow.label).join(MakerRow).where(MakerRow.name == name)),
    )
    journal = Journal(session, "remove", actor, name)
    storing.remove_maker(journal, maker_keys(session)[name], name)
    return _removed(journal, stored, record)


def remove_cord(
    session: Session, name: str, *, version: int | None = None, actor: str | None = None
) -> Edited:
    """Remove a cord in which no whip lies, with its stock; RecordError names the whips that lie in it."""
    stored, cord = cord_with_version(session, name)
    record = cord_record(cord)
    refuse_stale(f"cord {name}", record, None, version, stored)
    layers = select(WhipRow.label).join(LayerRow).join(LayerCordRow).join(CordRow).where(CordRow.name == name)
    used = select(WhipRow.label).join(CordUseRow).join(CordRow).where(CordRow.name == name)
    _refuse_used(f"cord {name!r}", [*session.scalars(layers), *session.scalars(used)])
    journal = Journal(session, "remove", actor, name)
    for key, _, stock in stock_with_keys(session):
        if stock.cord == name:
            storing.remove_stock(journal, key, stock)
    storing.remove_cord(journal, cord_keys(session)[name], cord)
    return _removed(journal, stored, record)


def remove_whip(
    session: Session, label: str, *, version: int | None = None, actor: str | None = None
) -> Edited:
    """Remove a whip with its layers, readings, ratings and everything else that was noted of it.

    RecordError names the whips that were compared with it, which would lose what they were rated by.
    """
    stored, whip = whip_with_version(session, label)
    record = whip_record(whip)
    refuse_stale(f"whip {label}", record, None, version, stored)
    key = whip_keys(session, [label])[label]
    beside = select(WhipRow.label).join(RatingSessionRow, RatingSessionRow.whip_id == WhipRow.id)
    _refuse_used(
        f"whip {label!r}",
        session.scalars(beside.where(RatingSessionRow.compared_with_id == key)),
        "ratings of",
        "label",
    )
    journal = Journal(session, "remove", actor, label)
    keys = [key for key, _, _ in ratings_with_keys(session, label)]
    storing.remove_whip(journal, key, whip, keys)
    return _removed(journal, stored, record)


def remove_stock(
    session: Session, key: int, *, version: int | None = None, actor: str | None = None
) -> Edited:
    """Remove the stock of a cord in one colour and lot."""
    stored, stock = stock_by_key(session, key)
    record = stock_record(stock)
    refuse_stale(f"stock {key}", record, None, version, stored)
    journal = Journal(session, "remove", actor, stock.cord)
    storing.remove_stock(journal, key, stock)
    return _removed(journal, stored, record)


def remove_reading(
    session: Session, key: int, *, version: int | None = None, actor: str | None = None
) -> Edited:
    """Remove one reading."""
    stored, label, reading = reading_by_key(session, key)
    record = reading_record(label, reading)
    refuse_stale(f"reading {key}", record, None, version, stored)
    journal = Journal(session, "remove", actor, label)
    storing_measured.remove_reading(journal, key, label, reading)
    return _removed(journal, stored, record)


def remove_rating(
    session: Session, key: int, *, version: int | None = None, actor: str | None = None
) -> Edited:
    """Remove one rating session, or the short rating of a whip."""
    stored, label, rating = rating_by_key(session, key)
    record = rating_record(label, rating)
    refuse_stale(f"rating {key}", record, None, version, stored)
    journal = Journal(session, "remove", actor, label)
    storing_measured.remove_rating(journal, key, whip_keys(session, [label])[label], label, rating)
    return _removed(journal, stored, record)


def _refuse_used(what: str, labels: Iterable[str], by: str = "", where: str = "name") -> None:
    whips = sorted(set(labels))
    if whips:
        listed = ", ".join(whips[:NAMED_AT_MOST])
        more = len(whips) - NAMED_AT_MOST
        named = f"{by} {listed}" if by else listed
        text = f"{what} is named by {named}{f' and {more} more' if more > 0 else ''}"
        remedy = f"change or remove these {'ratings' if by else 'whips'} first"
        refuse([Finding("still-used", text, remedy, where)])


def _removed(journal: Journal, stored: int, record: Record) -> Edited:
    done = finished(journal, stored, record, record)
    return Edited(done.number, stored, record, record)
