"""Carrying out what an import has decided, and one row of history for all of it."""

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.tables import HistoryEntryRow, HistoryRow
from plaitlog.models.whip import RatingSession, Whip
from plaitlog.service.usecases.import_plan import NAME_KEYS, Plan
from plaitlog.service.usecases.import_report import Progress
from plaitlog.service.usecases.loading import cord_keys, in_parts, maker_keys, rating_keys
from plaitlog.service.usecases.merging import Merged
from plaitlog.service.usecases.storing import (
    add_cords,
    add_makers,
    add_stock,
    add_whips,
    replace_cord,
    replace_stock,
    replace_whip,
)
from plaitlog.service.usecases.storing_parts import add_ratings, add_readings, insert_rows, replace_rating
from plaitlog.service.usecases.to_records import (
    cord_record,
    is_short,
    maker_record,
    rating_record,
    reading_record,
    stock_record,
    whip_record,
)

WHIPS_AT_ONCE: Final = 100
Pair = tuple[dict[str, Any] | None, dict[str, Any]]
"""A record before and after a change."""


def write_plan(
    session: Session,
    plan: Plan,
    action: str,
    actor: str | None,
    source: str | None,
    progress: Progress,
) -> None:
    """Write every change of the plan; where there is none, no history either."""
    pairs: list[Pair] = [(None, maker_record(name)) for name in plan.new_makers]
    add_makers(session, plan.new_makers)
    pairs += _write_cords(session, plan)
    pairs += _write_stock(session, plan)
    pairs += _write_whips(session, plan, progress)
    if pairs:
        change = HistoryRow(actor=actor, action=action, subject=source)
        session.add(change)
        session.flush()
        insert_rows(
            session,
            HistoryEntryRow,
            [
                {
                    "history_id": change.id,
                    "kind": after["kind"],
                    "name": after[NAME_KEYS[after["kind"]]],
                    "before": before,
                    "after": after,
                }
                for before, after in pairs
            ],
        )


def _write_cords(session: Session, plan: Plan) -> list[Pair]:
    pairs: list[Pair] = []
    add_cords(session, [change.after for change in plan.cords.values() if change.key is None])
    for change in plan.cords.values():
        before = None if change.before is None else cord_record(change.before)
        after = cord_record(change.after)
        if before != after:
            pairs.append((before, after))
            if change.key is not None:
                replace_cord(session, change.key, change.after)
    return pairs


def _write_stock(session: Session, plan: Plan) -> list[Pair]:
    pairs: list[Pair] = []
    keys = cord_keys(session)
    add_stock(session, [change.after for change in plan.stock.values() if change.key is None], keys)
    for change in plan.stock.values():
        before = None if change.before is None else stock_record(change.before)
        after = stock_record(change.after)
        if before != after:
            pairs.append((before, after))
            if change.key is not None:
                replace_stock(session, change.key, change.after)
    return pairs


def _write_whips(session: Session, plan: Plan, progress: Progress) -> list[Pair]:
    pairs: list[Pair] = []
    makers, cords = maker_keys(session), cord_keys(session)
    total = len(plan.whips)
    done = 0
    for part in in_parts(plan.whips.values(), WHIPS_AT_ONCE):
        new = [merged.after for merged in part if merged.before is None]
        add_whips(session, new, makers, cords)
        for whip in new:
            pairs.append((None, whip_record(whip)))
            pairs += [(None, rating_record(whip.label, x)) for x in whip.ratings if not is_short(x)]
        for merged in part:
            if merged.before is not None:
                pairs += _write_changes(session, plan.whip_keys[merged.whip.label], merged, makers, cords)
        done += len(part)
        progress("writing", done, total)
    return pairs


def _write_changes(
    session: Session, key: int, merged: Merged, makers: dict[str, int], cords: dict[str, int]
) -> list[Pair]:
    """Write what is new in a whip that is in the workshop already."""
    assert merged.before is not None
    label = merged.whip.label
    # Readings and ratings are kept out of the whip's own record here: they have entries of their own.
    before, after = _own_record(merged.before), _own_record(merged.whip)
    pairs: list[Pair] = []
    if before != after:
        replace_whip(session, key, merged.whip, makers, cords)
        pairs.append((before, after))
    add_readings(session, [(key, reading) for reading in merged.added])
    pairs += [(None, reading_record(label, reading)) for reading in merged.added]
    pairs += _write_ratings(session, key, label, merged.before.ratings, merged.whip.ratings)
    return pairs


def _write_ratings(
    session: Session,
    key: int,
    label: str,
    before: Sequence[RatingSession],
    after: Sequence[RatingSession],
) -> list[Pair]:
    pairs: list[Pair] = []
    changed = [i for i, rating in enumerate(before) if rating != after[i]]
    if changed:
        keys = rating_keys(session, key)
        for i in changed:
            replace_rating(session, keys[i], after[i])
            pairs.append((rating_record(label, before[i]), rating_record(label, after[i])))
    new = after[len(before) :]
    add_ratings(session, [(key, rating) for rating in new])
    return pairs + [(None, rating_record(label, rating)) for rating in new]


def _own_record(whip: Whip) -> dict[str, Any]:
    record = whip_record(whip)
    record.pop("readings", None)
    record.pop("ratings", None)
    return record
