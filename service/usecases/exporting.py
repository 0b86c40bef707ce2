"""Export of the whole workshop as JSON Lines that an import takes back without loss."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

from sqlalchemy.orm import Session

from plaitlog.models.whip import RatingSession
from plaitlog.service.usecases.json_lines import write_line
from plaitlog.service.usecases.loading import (
    in_parts,
    load_cords,
    load_stock,
    load_whips,
    maker_keys,
    whip_keys,
)
from plaitlog.service.usecases.to_records import (
    cord_record,
    is_short,
    maker_record,
    rating_record,
    stock_record,
    whip_record,
)


def export_lines(session: Session) -> Iterator[bytes]:
    """Every record as one line: makers, cords, stock, whips with all that is nested, rating sessions."""
    for record in export_records(session):
        yield write_line(record)


def export_records(session: Session) -> Iterator[dict[str, Any]]:
    """Every record in the order of an export; names and labels in the order of their characters' codes."""
    # Sorted here and not by the database, whose order of letters depends on its language.
    yield from map(maker_record, sorted(maker_keys(session)))
    yield from map(cord_record, sorted(load_cords(session).values(), key=lambda cord: cord.name))
    yield from map(
        stock_record,
        sorted(load_stock(session).values(), key=lambda x: (x.cord, x.colour or "", x.lot or "")),
    )
    keys = whip_keys(session)
    labels = sorted(keys)
    for part in in_parts(labels):
        yield from map(whip_record, load_whips(session, [keys[label] for label in part]).values())
    for part in in_parts(labels):
        for whip in load_whips(session, [keys[label] for label in part]).values():
            sessions = sorted((x for x in whip.ratings if not is_short(x)), key=_by_day)
            yield from (rating_record(whip.label, rating) for rating in sessions)


def _by_day(rating: RatingSession) -> tuple[dt.date, str, float, str]:
    used = rating.hours_of_use or 0.0
    return (rating.on or dt.date.min, rating.by or "", used, rating.compared_with or "")
