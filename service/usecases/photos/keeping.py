"""Photos of whips: look at them, add them, write under them, remove them; each a change that can be undone.

What a picture holds is kept by its digest and never changed or removed, so that the history, which keeps
every row that is written, holds no pictures.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError, NotFoundError
from plaitlog.models.tables import PhotoContentRow, PhotoRow, WhipRow
from plaitlog.models.tables.base import now
from plaitlog.service.usecases.changes.edited_records import refuse_stale
from plaitlog.service.usecases.changes.journal import Journal
from plaitlog.service.usecases.json_lines import unstorable
from plaitlog.service.usecases.listing import Page
from plaitlog.service.usecases.loading import whip_keys
from plaitlog.service.usecases.photos.encoding import EncodedPhoto
from plaitlog.service.usecases.workshop import not_found

CAPTION_AT_MOST = 500


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo of a whip by its number; sizes of the whole picture in pixels."""

    number: int
    version: int
    whip: str
    caption: str | None
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class AddedPhotos:
    """``number`` of the change, None where nothing was new; ``there`` already: how many of those sent."""

    number: int | None
    added: int
    there: int


def photos(session: Session, label: str) -> list[Photo]:
    """The photos of a whip, in the order of entry."""
    return [Photo(*row) for row in session.execute(_every().where(WhipRow.label == label))]


def photo_page(session: Session, limit: int, offset: int, *, whip: str | None = None) -> Page[Photo]:
    """Some of the photos in the order of entry; of one whip where that is asked."""
    query = _every() if whip is None else _every().where(WhipRow.label == whip)
    total = session.scalar(select(func.count()).select_from(query.order_by(None).subquery())) or 0
    rows = session.execute(query.limit(limit).offset(offset))
    return Page([Photo(*row) for row in rows], total, offset)


def photo_there(session: Session, label: str, digest: str) -> Photo | None:
    """The photo of a whip that holds a picture, by the digest of that; None where there is none."""
    query = _every().where(WhipRow.label == label, PhotoContentRow.digest == digest)
    row = session.execute(query.limit(1)).one_or_none()
    return None if row is None else Photo(*row)


def photo(session: Session, number: int) -> Photo:
    """One photo; NotFoundError."""
    row = session.execute(_every().where(PhotoRow.id == number)).one_or_none()
    if row is None:
        raise _no_such(number)
    return Photo(*row)


def picture(session: Session, number: int, *, small: bool) -> bytes:
    """The JPEG of a photo, whole or small; NotFoundError."""
    column = PhotoContentRow.small if small else PhotoContentRow.whole
    query = select(column).join(PhotoRow, PhotoRow.content_id == PhotoContentRow.id)
    found: bytes | None = session.scalar(query.where(PhotoRow.id == number))
    if found is None:
        raise _no_such(number)
    return found


def add_photos(
    session: Session,
    label: str,
    pictures: Sequence[EncodedPhoto],
    caption: str = "",
    *,
    actor: str | None = None,
) -> AddedPhotos:
    """Add photos to a whip in one change, all with this caption; what is there already is not added again.

    Raises
    ------
    NotFoundError, InputError
        There is no such whip; the caption cannot be kept.
    """
    keys = whip_keys(session, [label])
    if label not in keys:
        raise not_found("whip", label, whip_keys(session))
    words = checked_caption(caption)
    by_digest = {one.digest: one for one in pictures}
    contents = _contents(session, by_digest)
    of_whip = select(PhotoRow.content_id).where(PhotoRow.whip_id == keys[label])
    there = set(session.scalars(of_whip))
    new = [one for digest, one in by_digest.items() if contents[digest] not in there]
    journal = Journal(session, "photo", actor, label)
    rows = []
    for one in new:
        entry = journal.entry("photo", label, None, _record(label, words, one.width, one.height))
        content = contents[one.digest]
        rows.append((entry, {"whip_id": keys[label], "content_id": content, "caption": words}))
    journal.insert(PhotoRow, rows)
    journal.flush()
    return AddedPhotos(journal.number if new else None, len(new), len(pictures) - len(new))


def caption_photo(
    session: Session, number: int, caption: str, *, version: int | None = None, actor: str | None = None
) -> int | None:
    """Write something else under a photo; the number of the change, None where that stands there already.

    Raises
    ------
    NotFoundError, InputError, StaleEditError
        As its record is edited.
    """
    old, words = photo(session, number), checked_caption(caption)
    before = _record(old.whip, old.caption, old.width, old.height)
    refuse_stale(f"photo {number}", before, {"caption": words}, version, old.version)
    if words == old.caption:
        return None
    journal = Journal(session, "edit", actor, old.whip)
    entry = journal.entry("photo", old.whip, before, _record(old.whip, words, old.width, old.height))
    journal.update(entry, PhotoRow, number, {"caption": words})
    journal.flush()
    return journal.number


def remove_photo(
    session: Session, number: int, *, version: int | None = None, actor: str | None = None
) -> int:
    """Remove a photo from its whip; the number of the change. NotFoundError, StaleEditError."""
    old = photo(session, number)
    before = _record(old.whip, old.caption, old.width, old.height)
    refuse_stale(f"photo {number}", before, None, version, old.version)
    journal = Journal(session, "remove", actor, old.whip)
    journal.delete(journal.entry("photo", old.whip, before, None), PhotoRow, [number])
    journal.flush()
    return journal.number


def checked_caption(typed: str) -> str | None:
    """The caption as it is kept, None where nothing is written; InputError."""
    words = " ".join(typed.split()) or None
    wrong = unstorable(words)
    if wrong is not None:
        raise InputError(wrong)
    if words is not None and len(words) > CAPTION_AT_MOST:
        text = f"the caption has {len(words)} characters, at most {CAPTION_AT_MOST} go"
        raise InputError(Finding("caption-too-long", text, "shorten it", "caption"))
    return words


def _every() -> Any:
    return (
        select(
            PhotoRow.id,
            PhotoRow.version,
            WhipRow.label,
            PhotoRow.caption,
            PhotoContentRow.width,
            PhotoContentRow.height,
        )
        .join(WhipRow, WhipRow.id == PhotoRow.whip_id)
        .join(PhotoContentRow, PhotoContentRow.id == PhotoRow.content_id)
        .order_by(PhotoRow.id)
    )


def _contents(session: Session, by_digest: dict[str, EncodedPhoto]) -> dict[str, int]:
    """Keys of what the pictures hold, by digest; what is new is stored first."""
    query = select(PhotoContentRow.digest, PhotoContentRow.id).where(PhotoContentRow.digest.in_(by_digest))
    there = {digest for digest, _ in session.execute(query)}
    for digest, one in by_digest.items():
        if digest not in there:
            row = {
                "created_at": now(), "digest": digest, "width": one.width, "height": one.height,
                "whole": one.whole, "small": one.small,
            }  # fmt: skip
            session.execute(insert(PhotoContentRow.__table__), [row])  # type: ignore[arg-type]
    return {row.digest: row.id for row in session.execute(query)}


def _record(label: str, caption: str | None, width: int, height: int) -> dict[str, Any]:
    """A photo as the history tells of it."""
    found: dict[str, Any] = {"kind": "photo", "whip": label, "width": width, "height": height}
    return found if caption is None else {**found, "caption": caption}


def _no_such(number: int) -> NotFoundError:
    return NotFoundError(
        Finding("photo-not-found", f"there is no photo number {number}", "look at its whip's page")
    )
