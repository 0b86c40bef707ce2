"""Everything a fit learns from, as columns: kept whip by whip, so that a fit again reads little.

What a whip says to a fit is worked out once from its rows (``keep_gathered``) and dropped as soon as one of
these is written. Gathering takes what is kept, and works out afresh, without keeping it, what is not.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Final

from sqlalchemy import ColumnElement, Select, and_, delete, func, insert, select
from sqlalchemy.orm import Session

from plaitlog.models.calibration.observations import Observation
from plaitlog.models.calibration.readings import Readings
from plaitlog.models.calibration.single_readings import observations
from plaitlog.models.tables import GatheredRow, ReadingRow, WhipRow
from plaitlog.service.usecases.gathered_columns import FORMAT, NamedWhip, WhipColumns, packed, unpacked
from plaitlog.service.usecases.loading import (
    cord_keys,
    in_parts,
    load_cords,
    load_whips,
    maker_keys,
)
from plaitlog.service.usecases.observing import fingerprint_of, is_made, observe
from plaitlog.service.usecases.places import placed

KEPT_AT_ONCE: Final = 2_000
"""Whips kept in one transaction: some two seconds of work."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """Everything a fit learns from, why other readings are left out, and the state of the records.

    last_reading : key of the latest reading of all, by which to tell later what a fit cannot know.
    """

    readings: Readings
    left_out: Mapping[str, int]
    planned_whips: int
    whips: int
    fingerprint: str
    last_reading: int = 0

    @property
    def observations(self) -> tuple[Observation, ...]:
        """The readings one by one, made anew whenever they are asked for: for small data only."""
        return tuple(observations(self.readings))


@dataclass(frozen=True, slots=True)
class _Found:
    """What one whip says to a fit."""

    kept: WhipColumns
    left_out: Mapping[str, int]


def gather(session: Session) -> Gathered:
    """All readings on known stacks. Planned whips take no part, nor does a finished handle's diameter.

    Where everything is kept it takes a fixed number of statements; else one part of whips after another is
    read, as for keeping it.
    """
    fingerprint = fingerprint_of(session)
    planned = session.scalar(select(func.count()).select_from(WhipRow).where(WhipRow.status == "planned"))
    makers = {key: name for name, key in maker_keys(session).items()}
    rows = session.execute(
        select(WhipRow.id, WhipRow.label, WhipRow.maker_id, *_COLUMNS)
        .outerjoin(GatheredRow, _is_kept())
        .where(is_made())
        .order_by(WhipRow.label)
    ).all()
    lacking = dict(_worked_out(session, [row.id for row in rows if row.columns is None]))
    whips: list[NamedWhip] = []
    left_out: Counter[str] = Counter()
    for row in rows:
        found = lacking[row.id] if row.columns is None else _from_row(row)
        whips.append(NamedWhip(row.label, None if row.maker_id is None else makers[row.maker_id], found.kept))
        left_out.update(found.left_out)
    readings = unpacked(whips, load_cords(session))
    last = session.scalar(select(func.max(ReadingRow.id))) or 0
    return Gathered(readings, dict(left_out.most_common()), planned or 0, len(rows), fingerprint, last)


def lacking_whips(session: Session) -> int:
    """How many whips lack what ``keep_gathered`` works out."""
    return session.scalar(select(func.count()).select_from(_lacking().subquery())) or 0


def keep_gathered(session: Session, at_most: int = KEPT_AT_ONCE) -> int:
    """Work out and keep what some whips say to a fit that lack it; gives how many (0: none lacks it)."""
    keys: list[int] = list(session.scalars(_lacking().order_by(WhipRow.id).limit(at_most)))
    for part in in_parts(keys):
        session.execute(delete(GatheredRow).where(GatheredRow.whip_id.in_(part)))
        rows = [
            {
                "whip_id": key,
                "made_by": MADE_BY,
                "columns": found.kept.columns,
                "lots": list(found.kept.lots) or None,
                "left_out": dict(found.left_out) or None,
            }
            for key, found in _worked_out(session, part)
        ]
        session.execute(insert(GatheredRow), rows)
    return len(keys)


def _lacking() -> Select[int]:
    joined = select(WhipRow.id).outerjoin(GatheredRow, _is_kept())
    return joined.where(is_made(), GatheredRow.whip_id.is_(None))


def _worked_out(session: Session, keys: Sequence[int]) -> Iterator[tuple[int, _Found]]:
    """What whips say to a fit, from their rows."""
    if not keys:
        return
    cords = {cord.name: cord for cord in load_cords(session).values()}
    by_name = cord_keys(session)
    for part in in_parts(keys):
        seen = [observe(placed(whip), cords) for whip in load_whips(session, part).values()]
        columns = packed([found for found, _ in seen], by_name)
        for key, kept, (_, reasons) in zip(part, columns, seen, strict=True):
            yield key, _Found(kept, Counter(reasons))


def _from_row(row: Any) -> _Found:
    return _Found(WhipColumns(row.columns, tuple(row.lots or ())), row.left_out or {})


def _is_kept() -> ColumnElement[bool]:
    return and_(GatheredRow.whip_id == WhipRow.id, GatheredRow.made_by == MADE_BY)


def _made_by() -> str:
    try:
        return f"{version('plaitlog')}, {FORMAT}"
    except PackageNotFoundError:
        return f"unknown, {FORMAT}"


MADE_BY: Final = _made_by()
_COLUMNS: Final = (GatheredRow.columns, GatheredRow.lots, GatheredRow.left_out)
