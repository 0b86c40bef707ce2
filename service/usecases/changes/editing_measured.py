"""Editing what was measured and judged: one reading, one rating session, by its number."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding
from plaitlog.models.plausibility import whip_findings, whip_refusals
from plaitlog.models.plausibility_values import not_known
from plaitlog.models.whip import RatingSession, Whip
from plaitlog.service.usecases.changes.edit_checks import finished, refuse
from plaitlog.service.usecases.changes.edited_records import Edited, edited_record, refuse_stale, shaped
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.from_measurements import reading_from
from plaitlog.service.usecases.from_records import Refusals, rating_from
from plaitlog.service.usecases.loading import whip_keys
from plaitlog.service.usecases.merging import rating_identity
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.storing_measured import replace_rating, replace_reading
from plaitlog.service.usecases.to_records import is_short, rating_record, reading_record
from plaitlog.service.usecases.workshop import (
    rating_by_key,
    ratings_with_keys,
    reading_by_key,
    readings_with_keys,
    whip,
)


def edit_reading(
    session: Session,
    key: int,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    """Edit one reading; with another label under ``whip`` it moves to that whip.

    Raises
    ------
    NotFoundError, RecordError, StaleEditError
        As told at the top of ``editing``.
    """
    stored, label, reading = reading_by_key(session, key)
    before = reading_record(label, reading)
    refuse_stale(f"reading {key}", before, changes, version, stored)
    record = shaped(edited_record(before, changes))
    refusals = Refusals()
    new = reading_from(record, refusals)
    refuse(refusals.findings)
    assert new is not None
    of = whip(session, record.whip)
    others = tuple(x for other, _, x in readings_with_keys(session, of.label) if other != key)
    whole = placed(replace(of, readings=(*others, new)))
    refuse(_about("readings", len(others) + 1, whip_refusals(whole)))
    after = reading_record(of.label, new)
    journal = Journal(session, "edit", actor, label)
    if after != before:
        replace_reading(journal, key, whip_keys(session)[of.label], (label, reading), (of.label, new))
    findings = tuple(_about("readings", len(others) + 1, whip_findings(whole)))
    return finished(journal, stored, before, after, findings)


def edit_rating(
    session: Session,
    key: int,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    """Edit one rating session; with another label under ``whip`` it moves to that whip.

    Raises
    ------
    NotFoundError, RecordError, StaleEditError
        As told at the top of ``editing``.
    """
    stored, label, rating = rating_by_key(session, key)
    before = rating_record(label, rating)
    refuse_stale(f"rating {key}", before, changes, version, stored)
    record = shaped(edited_record(before, changes))
    of = whip(session, record.whip)
    new = _as_own(rating_from(record), of)
    keys = whip_keys(session)
    if new.compared_with is not None and new.compared_with not in keys:
        refuse([not_known(new.compared_with, keys, "whip", "compared_with")])
    others = tuple(x for other, _, x in ratings_with_keys(session, of.label) if other != key)
    if rating_identity(new) in map(rating_identity, others):
        text = "the whip has another rating of the same person, day, hours of use and other whip"
        refuse([Finding("rating-exists", text, "edit that one, or note what tells the two apart", "by")])
    whole = placed(replace(of, ratings=(*others, new)))
    refuse(_about("ratings", len(others) + 1, whip_refusals(whole)))
    after = rating_record(of.label, new)
    journal = Journal(session, "edit", actor, label)
    if after != before:
        replace_rating(journal, key, keys[of.label], (label, rating), (of.label, new))
    findings = tuple(_about("ratings", len(others) + 1, whip_findings(whole)))
    return finished(journal, stored, before, after, findings)


def _as_own(rating: RatingSession, of: Whip) -> RatingSession:
    """A rating by the whip's maker that says nothing of a session is the maker's short one."""
    own = replace(rating, by=None)
    return own if rating.by is not None and rating.by == of.maker and is_short(own) else rating


def _about(what: str, number: int, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Of all that is found about a whip, what concerns this reading or rating."""
    place = f"{what} {number}"
    for finding in findings:
        if finding.where == place or finding.where.startswith(f"{place}, "):
            yield replace(finding, where=finding.where[len(place) :].removeprefix(", "))
