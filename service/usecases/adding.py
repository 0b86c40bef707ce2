"""Add one record that must be new: what is in the workshop already is refused, never changed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import AlreadyThereError, Finding, RecordError
from plaitlog.models.tables import CordStockRow, RatingSessionRow, ReadingRow
from plaitlog.service.usecases import listing
from plaitlog.service.usecases.import_report import RowOutcome
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.listing import Page, Stored

_NAMED: Final = {"maker": listing.one_maker, "cord": listing.one_cord, "whip": listing.one_whip}
_KEYED: Final[dict[str, tuple[Any, Callable[[Session, int], Stored], Callable[..., Page[Stored]], str]]] = {
    "stock": (CordStockRow, listing.one_stock, listing.list_stock, "cord"),
    "reading": (ReadingRow, listing.one_reading, listing.list_readings, "whip"),
    "rating": (RatingSessionRow, listing.one_rating, listing.list_ratings, "whip"),
}
_EVERY = 2**31 - 1


@dataclass(frozen=True, slots=True)
class Added:
    """A record as it is stored; the change it was added by (None: it was there already), and remarks."""

    stored: Stored
    number: int | None
    findings: tuple[Finding, ...]


def add_record(
    session: Session, record: Mapping[str, Any], *, again: bool = False, actor: str | None = None
) -> Added:
    """Add one record, as it would stand in a file.

    Parameters
    ----------
    again : the caller cannot tell whether the same was sent before: what is there already, and says the
        same, counts as added by the earlier call.

    Raises
    ------
    RecordError
        With everything that is to be mended.
    AlreadyThereError
        Where the name is taken, or the same is there already.
    """
    kind = str(record["kind"])
    row = _outcome(take_records(session, [record], dry_run=True).rows)
    if row.outcome == "rejected":
        raise RecordError(*row.findings)
    if row.outcome == "there already" and again:
        stored = _named(session, kind, row) or _same(session, kind, record)
        return Added(stored, None, row.findings)
    if row.outcome != "add":
        raise AlreadyThereError(_there_already(row, kind))
    take_records(session, [record], actor=actor)
    stored = _named(session, kind, row) or _newest(session, kind)
    return Added(stored, listing.latest_change(session), row.findings)


def _outcome(rows: Any) -> RowOutcome:
    found: RowOutcome = next(row for row in rows if not row.implied)
    return found


def _named(session: Session, kind: str, row: RowOutcome) -> Stored | None:
    return _NAMED[kind](session, row.name) if kind in _NAMED else None


def _newest(session: Session, kind: str) -> Stored:
    table, one, _, _ = _KEYED[kind]
    key = session.scalar(select(func.max(table.id)))
    assert key is not None
    return one(session, key)


def _same(session: Session, kind: str, record: Mapping[str, Any]) -> Stored:
    """What is stored of a record that says nothing new: of those it may be, the one most alike."""
    _, _, stored_of, owner = _KEYED[kind]
    found = stored_of(session, _EVERY, 0, **{owner: str(record[owner]).strip()}).items
    return max(found, key=lambda stored: sum(stored.record.get(key) == record[key] for key in record))


def _there_already(row: RowOutcome, kind: str) -> Finding:
    if kind in _NAMED:
        where = "label" if kind == "whip" else "name"
        text = f"the {kind} {row.name!r} is in the workshop already"
        return Finding(f"{kind}-exists", text, f"edit it, or choose another {where}", where)
    text = f"the same {kind} of {row.name!r} is in the workshop already"
    return Finding(f"{kind}-exists", text, "edit that one, or note what tells the two apart")
