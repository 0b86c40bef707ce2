"""Editing what is recorded: the whole record is built, changed, and read from scratch like one in a file.

So every check of an import holds for an edit too. ``changes`` has the keys of the record; a key that is
given replaces, null erases, keys that are absent stay, and both keys of one size (number, text as typed) go
together. ``version`` is the one that the edit rests on; without it nothing is compared. Each edit or removal
is one change in the history and can be undone. All of these commit nothing, and raise

NotFoundError
    with the nearest name,
RecordError
    with everything that is to be mended,
StaleEditError
    where ``version`` is no longer the stored one, with both values of each key that differs.
"""

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding
from plaitlog.models.plausibility import cord_findings, cord_refusals
from plaitlog.models.whip import Cord
from plaitlog.service.usecases.changes.edit_checks import (
    finished,
    new_findings,
    refuse,
    refuse_taken,
    unknown_cords,
)
from plaitlog.service.usecases.changes.edited_records import Edited, edited_record, refuse_stale, shaped
from plaitlog.service.usecases.changes.editing_measured import edit_rating, edit_reading
from plaitlog.service.usecases.changes.editing_whips import edit_whip
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.changes.kept_plans import rename_in_plans
from plaitlog.service.usecases.changes.removing import (
    remove_cord,
    remove_maker,
    remove_rating,
    remove_reading,
    remove_stock,
    remove_whip,
)
from plaitlog.service.usecases.from_records import Refusals, cord_from, stock_from
from plaitlog.service.usecases.loading import cord_keys, load_stock, maker_keys
from plaitlog.service.usecases.storing import rename_maker, replace_cord, replace_stock
from plaitlog.service.usecases.to_records import cord_record, maker_record, stock_record
from plaitlog.service.usecases.workshop import cord_with_version, maker_with_version, stock_by_key

__all__ = [
    "Edited",
    "edit_cord",
    "edit_maker",
    "edit_rating",
    "edit_reading",
    "edit_stock",
    "edit_whip",
    "remove_cord",
    "remove_maker",
    "remove_rating",
    "remove_reading",
    "remove_stock",
    "remove_whip",
]


def edit_maker(
    session: Session,
    name: str,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    """Rename a maker; the whips of that maker go with the name."""
    stored, _ = maker_with_version(session, name)
    before = maker_record(name)
    refuse_stale(f"maker {name}", before, changes, version, stored)
    after = shaped(edited_record(before, changes)).name
    keys = maker_keys(session)
    refuse_taken("maker", "name", name, after, keys)
    journal = Journal(session, "edit", actor, name)
    if after != name:
        rename_maker(journal, keys[name], name, after)
    return finished(journal, stored, before, maker_record(after))


def edit_cord(
    session: Session,
    name: str,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    """Edit a cord kind; what lies in it goes with a new name."""
    stored, cord = cord_with_version(session, name)
    before = cord_record(cord)
    refuse_stale(f"cord {name}", before, changes, version, stored)
    record = shaped(edited_record(before, changes))
    refusals = Refusals()
    stated = cord_from(record, refusals)
    refuse(refusals.findings)
    after = stated.applied_to(
        Cord(name=record.name, material=record.material, construction=record.construction)
    )
    refuse(cord_refusals(after))
    keys = cord_keys(session)
    refuse_taken("cord", "name", name, after.name, keys)
    journal = Journal(session, "edit", actor, name)
    if cord_record(after) != before:
        replace_cord(journal, keys[name], cord, after)
    if after.name != name:
        rename_in_plans(journal, name, after.name)
    return finished(journal, stored, before, cord_record(after), new_findings(cord_findings, cord, after))


def edit_stock(
    session: Session,
    key: int,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    """Edit the stock of a cord in one colour and lot."""
    stored, stock = stock_by_key(session, key)
    before = stock_record(stock)
    refuse_stale(f"stock {key}", before, changes, version, stored)
    after = stock_from(shaped(edited_record(before, changes)))
    cords = cord_keys(session)
    refuse(unknown_cords([("cord", after.cord)], cords))
    for other_key, other in load_stock(session).items():
        if other_key != key and (other.cord, other.colour, other.lot) == (
            after.cord,
            after.colour,
            after.lot,
        ):
            text = f"this colour and lot of {after.cord!r} is in stock already, as number {other_key}"
            refuse([Finding("stock-exists", text, "edit that one", "lot")])
    journal = Journal(session, "edit", actor, stock.cord)
    if stock_record(after) != before:
        replace_stock(journal, key, stock, after, cords)
    return finished(journal, stored, before, stock_record(after))
