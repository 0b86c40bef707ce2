"""Editing a whip: its own facts, its layers, its short rating."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding
from plaitlog.models.plausibility import whip_findings, whip_refusals
from plaitlog.models.whip import Whip
from plaitlog.service.usecases.changes.edit_checks import (
    finished,
    new_findings,
    refuse,
    refuse_taken,
    unknown_cords,
)
from plaitlog.service.usecases.changes.edited_records import (
    Edited,
    edited_record,
    refuse_stale,
    shaped,
)
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.from_records import Refusals
from plaitlog.service.usecases.import_deciding import cords_named
from plaitlog.service.usecases.loading import cord_keys, maker_keys, whip_keys
from plaitlog.service.usecases.merging import begin, take_in
from plaitlog.service.usecases.places import placed, unplaced
from plaitlog.service.usecases.storing import add_makers, own_record, replace_whip
from plaitlog.service.usecases.storing_measured import add_ratings, remove_rating, replace_rating
from plaitlog.service.usecases.to_layer_records import by_notation
from plaitlog.service.usecases.to_records import is_short, whip_record
from plaitlog.service.usecases.workshop import ratings_with_keys, whip_with_version


def edit_whip(
    session: Session,
    label: str,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    """Edit a whip, its layers and its short rating; readings and rating sessions are edited one by one.

    Where the point moves and the layers are not given, places counted from the point move with it.

    Raises
    ------
    NotFoundError, RecordError, StaleEditError
        As told at the top of ``editing``.
    """
    stored, old = whip_with_version(session, label)
    before = whip_record(old)
    refuse_stale(f"whip {label}", before, changes, version, stored)
    record = edited_record(before, changes)
    cords, makers, keys = cord_keys(session), maker_keys(session), whip_keys(session)
    refuse(unknown_cords(cords_named(shaped(record)), cords))
    new, remarks = _whip_of(record, old, layers_given="layers" in changes)
    refuse_taken("whip", "label", label, new.label, keys)
    refuse(whip_refusals(placed(new)))
    journal = Journal(session, "edit", actor, label)
    if new.maker is not None and new.maker not in makers:
        makers[new.maker] = add_makers(journal, [new.maker])[0]
    if own_record(new) != own_record(old):
        replace_whip(journal, keys[label], old, new, makers, cords)
    _write_short_rating(journal, keys[label], old, new)
    findings = remarks + new_findings(whip_findings, placed(old), placed(new))
    return finished(journal, stored, before, whip_record(placed(new)), findings)


def _whip_of(record: Mapping[str, Any], old: Whip, *, layers_given: bool) -> tuple[Whip, tuple[Finding, ...]]:
    """The whip that the record says, with the readings and rating sessions of the old one."""
    own = {key: value for key, value in record.items() if key not in ("readings", "readings_text")}
    if not layers_given and "layers" in own:
        bare, _ = read_whip({key: value for key, value in own.items() if key not in ("layers", "letters")})
        if bare.point_mm != old.point_mm:
            own = {**own, "layers": [by_notation(layer) for layer in own["layers"]]}
    new, findings = read_whip(own)
    short = next(iter(new.ratings), None)
    ratings = [short if is_short(x) else x for x in old.ratings]
    if short not in ratings:
        ratings.append(short)
    typed_before = {key: text for key, text in old.typed.items() if key == "readings"}
    whole = replace(
        new,
        readings=tuple(map(unplaced, old.readings)),
        ratings=tuple(x for x in ratings if x is not None),
        typed={**new.typed, **typed_before},
    )
    return whole, findings


def read_whip(record: Mapping[str, Any]) -> tuple[Whip, tuple[Finding, ...]]:
    """A new whip as its record says, with what is remarkable; RecordError with all that is to be mended."""
    shape = shaped(record)
    refusals = Refusals()
    merged = begin(None, shape.label)
    findings = take_in(merged, shape, 1, refusals)
    refuse(refusals.findings)
    return merged.whip, findings


def _write_short_rating(journal: Journal, key: int, old: Whip, new: Whip) -> None:
    before = next((x for x in old.ratings if is_short(x)), None)
    after = next((x for x in new.ratings if is_short(x)), None)
    if before == after:
        return
    if before is None:
        assert after is not None
        add_ratings(journal, key, new.label, [after])
        return
    listed = ratings_with_keys(journal.session, new.label)
    rating_key = next(rating_key for rating_key, _, rating in listed if is_short(rating))
    if after is None:
        remove_rating(journal, rating_key, key, new.label, before)
    else:
        replace_rating(journal, rating_key, key, (new.label, before), (new.label, after))
