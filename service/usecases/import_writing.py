"""Carrying out what an import has decided; the journal keeps every row written for an undo."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy.orm import Session

from plaitlog.models.whip import RatingSession
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.import_plan import Plan
from plaitlog.service.usecases.import_report import Progress
from plaitlog.service.usecases.loading import cord_keys, in_parts, maker_keys, rating_keys
from plaitlog.service.usecases.merging import Merged
from plaitlog.service.usecases.storing import (
    add_cords,
    add_makers,
    add_stock,
    add_whips,
    for_later,
    own_record,
    replace_cord,
    replace_stock,
    replace_whip,
)
from plaitlog.service.usecases.storing_measured import add_ratings, add_readings, replace_rating
from plaitlog.service.usecases.to_records import cord_record, stock_record

WHIPS_AT_ONCE: Final = 100


@dataclass(frozen=True, slots=True)
class _Later:
    """Rating sessions of a whip, written when every whip is there that one may be compared with."""

    key: int
    label: str
    before: Sequence[RatingSession]
    after: Sequence[RatingSession]


def write_plan(session: Session, plan: Plan, journal: Journal, progress: Progress) -> None:
    """Write every change of the plan; where there is none, no history either.

    One journal may serve several plans, one after another: they are one change then.
    """
    add_makers(journal, plan.new_makers)
    _write_cords(journal, plan)
    _write_stock(session, journal, plan)
    journal.flush()
    _write_whips(session, journal, plan, progress)


def _write_cords(journal: Journal, plan: Plan) -> None:
    add_cords(journal, [change.after for change in plan.cords.values() if change.key is None])
    for change in plan.cords.values():
        if change.key is None or change.before is None:
            continue
        if cord_record(change.before) != cord_record(change.after):
            replace_cord(journal, change.key, change.before, change.after)


def _write_stock(session: Session, journal: Journal, plan: Plan) -> None:
    keys = cord_keys(session)
    add_stock(journal, [change.after for change in plan.stock.values() if change.key is None], keys)
    for change in plan.stock.values():
        if change.key is None or change.before is None:
            continue
        if stock_record(change.before) != stock_record(change.after):
            replace_stock(journal, change.key, change.before, change.after, keys)


def _write_whips(session: Session, journal: Journal, plan: Plan, progress: Progress) -> None:
    makers, cords = maker_keys(session), cord_keys(session)
    total = len(plan.whips)
    done = 0
    later: list[_Later] = []
    for part in in_parts(plan.whips.values(), WHIPS_AT_ONCE):
        new = [merged.after for merged in part if merged.before is None]
        keys = add_whips(journal, new, makers, cords)
        later += [
            _Later(key, x.label, (), found)
            for key, x in zip(keys, new, strict=True)
            if (found := for_later(x))
        ]
        for merged in part:
            if merged.before is not None:
                key = plan.whip_keys[merged.whip.label]
                _write_changes(journal, key, merged, makers, cords)
                later.append(_Later(key, merged.whip.label, merged.before.ratings, merged.whip.ratings))
        journal.flush()
        done += len(part)
        progress("writing", done, total)
    for some in in_parts(later, WHIPS_AT_ONCE):
        for each in some:
            _write_ratings(session, journal, each)
        journal.flush()


def _write_changes(
    journal: Journal,
    key: int,
    merged: Merged,
    makers: dict[str, int],
    cords: dict[str, int],
) -> None:
    """Write what is new in a whip that is in the workshop already."""
    assert merged.before is not None
    label = merged.whip.label
    if own_record(merged.before) != own_record(merged.whip):
        replace_whip(journal, key, merged.before, merged.whip, makers, cords)
    add_readings(journal, key, label, merged.added)


def _write_ratings(session: Session, journal: Journal, of: _Later) -> None:
    changed = [i for i, rating in enumerate(of.before) if rating != of.after[i]]
    if changed:
        keys = rating_keys(session, of.key)
        for i in changed:
            replace_rating(journal, keys[i], of.key, (of.label, of.before[i]), (of.label, of.after[i]))
    add_ratings(journal, of.key, of.label, of.after[len(of.before) :])
