"""Looking round the workshop: cords with their stock, whips in brief, one whip or cord by name."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, distinct, func, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, NotFoundError, nearest_or
from plaitlog.models.tables import (
    CordRow,
    CordStockRow,
    LayerCordRow,
    LayerRow,
    MakerRow,
    RatingSessionRow,
    ReadingRow,
    WhipRow,
)
from plaitlog.models.whip import Cord, CordStock, RatingSession, Reading, Whip
from plaitlog.service.usecases.loading import (
    cord_names,
    in_parts,
    load_cords,
    load_stock,
    load_whips,
    maker_keys,
    whip_keys,
)


@dataclass(frozen=True, slots=True)
class CordInWorkshop:
    """One cord with what is in stock, and how many whips it lies in."""

    cord: Cord
    stock: tuple[CordStock, ...]
    whips: int

    @property
    def metres(self) -> float | None:
        """Metres in stock over all colours and lots; None where none is noted."""
        known = [stock.metres for stock in self.stock if stock.metres is not None]
        return sum(known) if known else None


@dataclass(frozen=True, slots=True)
class WhipInBrief:
    """One line of the list of whips; lengths in mm, weight left to the whip itself."""

    label: str
    maker: str | None
    type: str | None
    status: str | None
    made_on: dt.date | None
    thong_length_mm: float | None
    layers: int
    readings: int


def makers(session: Session) -> list[str]:
    """Names of all makers, in order."""
    return sorted(maker_keys(session))


def cords_by_name(session: Session) -> dict[str, Cord]:
    """Every cord by its name, in order."""
    return {cord.name: cord for cord in sorted(load_cords(session).values(), key=lambda cord: cord.name)}


def cords_with_stock(session: Session) -> list[CordInWorkshop]:
    """Every cord with its stock, by name."""
    stock = list(load_stock(session).values())
    names = cord_names(session)
    counted = session.execute(
        select(LayerCordRow.cord_id, func.count(distinct(LayerRow.whip_id)))
        .join(LayerRow, LayerRow.id == LayerCordRow.layer_id)
        .group_by(LayerCordRow.cord_id)
    )
    whips = {names[key]: number for key, number in counted}
    return [
        CordInWorkshop(cord, tuple(x for x in stock if x.cord == name), whips.get(name, 0))
        for name, cord in cords_by_name(session).items()
    ]


def cord(session: Session, name: str) -> Cord:
    """One cord.

    Raises
    ------
    NotFoundError
        With the nearest name.
    """
    found = cords_by_name(session)
    if name not in found:
        raise not_found("cord", name, found)
    return found[name]


def whips_in_brief(session: Session) -> list[WhipInBrief]:
    """Every whip in one line, by label."""
    layers, readings = (
        select(table.whip_id, func.count().label("number")).group_by(table.whip_id).subquery()
        for table in (LayerRow, ReadingRow)
    )
    rows = session.execute(
        select(
            WhipRow.label,
            MakerRow.name,
            WhipRow.type,
            WhipRow.status,
            WhipRow.made_on,
            WhipRow.thong_length_mm,
            func.coalesce(layers.c.number, 0),
            func.coalesce(readings.c.number, 0),
        )
        .outerjoin(MakerRow, MakerRow.id == WhipRow.maker_id)
        .outerjoin(layers, layers.c.whip_id == WhipRow.id)
        .outerjoin(readings, readings.c.whip_id == WhipRow.id)
    )
    return sorted((WhipInBrief(*row) for row in rows), key=lambda whip: whip.label)


def whip(session: Session, label: str) -> Whip:
    """One whip with everything that is known of it.

    Raises
    ------
    NotFoundError
        With the nearest label.
    """
    keys = whip_keys(session, [label])
    if label not in keys:
        raise not_found("whip", label, whip_keys(session))
    return load_whips(session, [keys[label]])[keys[label]]


def whips(session: Session) -> Iterable[Whip]:
    """Every whip with everything that is known of it, by label."""
    keys = whip_keys(session)
    for part in in_parts(sorted(keys)):
        yield from load_whips(session, [keys[label] for label in part]).values()


def maker_with_version(session: Session, name: str) -> tuple[int, str]:
    """Version of a maker, and the name; NotFoundError with the nearest name."""
    return _version(session, MakerRow.name, MakerRow.version, "maker", name), name


def cord_with_version(session: Session, name: str) -> tuple[int, Cord]:
    """One cord with its version; NotFoundError with the nearest name."""
    return _version(session, CordRow.name, CordRow.version, "cord", name), cord(session, name)


def whip_with_version(session: Session, label: str) -> tuple[int, Whip]:
    """One whip with the version of all but its readings and rating sessions, which have their own."""
    return _version(session, WhipRow.label, WhipRow.version, "whip", label), whip(session, label)


def _version(session: Session, column: Any, version: Any, kind: str, name: str) -> int:
    found: int | None = session.scalar(select(version).where(column == name))
    if found is None:
        raise not_found(kind, name, session.scalars(select(column)))
    return found


def stock_with_keys(session: Session) -> list[tuple[int, int, CordStock]]:
    """All stock as (key, version, stock), in order of entry."""
    versions = _versions(session, select(CordStockRow.id, CordStockRow.version))
    return [(key, versions[key], stock) for key, stock in load_stock(session).items()]


def readings_with_keys(session: Session, label: str) -> list[tuple[int, int, Reading]]:
    """The readings of a whip as (key, version, reading), in order of entry; NotFoundError."""
    found = whip(session, label)
    of_whip = whip_keys(session, [label])[label]
    versions = _versions(
        session, select(ReadingRow.id, ReadingRow.version).where(ReadingRow.whip_id == of_whip)
    )
    return [(*item, noun) for item, noun in zip(sorted(versions.items()), found.readings, strict=True)]


def ratings_with_keys(session: Session, label: str) -> list[tuple[int, int, RatingSession]]:
    """The rating sessions of a whip as (key, version, session), in order of entry; NotFoundError."""
    found = whip(session, label)
    of_whip = whip_keys(session, [label])[label]
    versions = _versions(
        session,
        select(RatingSessionRow.id, RatingSessionRow.version).where(RatingSessionRow.whip_id == of_whip),
    )
    return [(*item, noun) for item, noun in zip(sorted(versions.items()), found.ratings, strict=True)]


def stock_by_key(session: Session, key: int) -> tuple[int, CordStock]:
    """Version and stock; NotFoundError."""
    found = next((x for x in stock_with_keys(session) if x[0] == key), None)
    if found is None:
        raise _no_such("stock", key)
    return found[1:]


def reading_by_key(session: Session, key: int) -> tuple[int, str, Reading]:
    """Version, label of the whip, and reading; NotFoundError."""
    label = _label_of(session, ReadingRow, key)
    if label is None:
        raise _no_such("reading", key)
    version, found = next((x[1], x[2]) for x in readings_with_keys(session, label) if x[0] == key)
    return version, label, found


def rating_by_key(session: Session, key: int) -> tuple[int, str, RatingSession]:
    """Version, label of the whip, and rating session; NotFoundError."""
    label = _label_of(session, RatingSessionRow, key)
    if label is None:
        raise _no_such("rating", key)
    version, found = next((x[1], x[2]) for x in ratings_with_keys(session, label) if x[0] == key)
    return version, label, found


def _label_of(session: Session, table: type[ReadingRow | RatingSessionRow], key: int) -> str | None:
    return session.scalar(
        select(WhipRow.label).join(table, table.whip_id == WhipRow.id).where(table.id == key)
    )


def _no_such(kind: str, key: int) -> NotFoundError:
    remedy = "look for its number: 'plaitlog edit' with the label or the cord lists them"
    return NotFoundError(Finding(f"{kind}-not-found", f"there is no {kind} number {key}", remedy))


def _versions(session: Session, query: Select[int, int]) -> dict[int, int]:
    return {row.id: row.version for row in session.execute(query)}


def last_whip(session: Session) -> Whip | None:
    """The whip that was recorded last."""
    key = session.scalar(select(func.max(WhipRow.id)))
    return None if key is None else load_whips(session, [key])[key]


def is_empty(session: Session) -> bool:
    """Whether nothing is recorded: no maker, no cord, no whip."""
    return not any(session.scalar(select(table.id).limit(1)) for table in (MakerRow, CordRow, WhipRow))


def not_found(kind: str, name: str, known: Iterable[str]) -> NotFoundError:
    """What to raise for a name that is not in the workshop."""
    remedy = nearest_or(name, known, f"'plaitlog {kind}s' lists them")
    return NotFoundError(Finding(f"{kind}-not-found", f"no {kind} {name!r} is in the workshop", remedy))
