"""One noun as it is recorded, with its version and the numbers of what hangs on it and has no name."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

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
    readings_with_keys,
    stock_by_key,
    stock_with_keys,
    whip_with_version,
)


@dataclass(frozen=True, slots=True)
class Part:
    """A reading, rating session or stock with its number."""

    number: int
    version: int
    record: Record


@dataclass(frozen=True, slots=True)
class Recorded:
    """A noun; ``parts`` by kind."""

    version: int
    record: Record
    parts: Mapping[str, Sequence[Part]] = field(default_factory=dict)


def recorded(session: Session, kind: str, name: str | int) -> Recorded:
    """What is recorded of a whip, cord or maker by its name, or of a reading, rating or stock by its number.

    Raises
    ------
    NotFoundError
        With the nearest name.
    """
    match kind, name:
        case "whip", str():
            return _whip(session, name)
        case "cord", str():
            version, cord = cord_with_version(session, name)
            stock = [
                Part(key, v, stock_record(x)) for key, v, x in stock_with_keys(session) if x.cord == name
            ]
            return Recorded(version, cord_record(cord), {"stock": stock})
        case "maker", str():
            return Recorded(maker_with_version(session, name)[0], maker_record(name))
        case "reading", int():
            version, label, reading = reading_by_key(session, name)
            return Recorded(version, reading_record(label, reading))
        case "rating", int():
            version, label, rating = rating_by_key(session, name)
            return Recorded(version, rating_record(label, rating))
        case "stock", int():
            version, found = stock_by_key(session, name)
            return Recorded(version, stock_record(found))
    raise ValueError(f"{kind} {name!r}")


def _whip(session: Session, label: str) -> Recorded:
    version, whip = whip_with_version(session, label)
    readings = [Part(key, v, reading_record(label, x)) for key, v, x in readings_with_keys(session, label)]
    ratings = [Part(key, v, rating_record(label, x)) for key, v, x in ratings_with_keys(session, label)]
    return Recorded(version, whip_record(whip), {"reading": readings, "rating": ratings})
