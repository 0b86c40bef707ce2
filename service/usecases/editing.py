"""Editing and removing what is recorded; every change can be undone."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding


@dataclass(frozen=True, slots=True)
class Edited:
    """What an edit made of a record.

    Attributes
    ----------
    number : that of the change; None where nothing changed.
    version : the record's version now; of what was removed, the last one it had.
    record : as in a JSON Lines file, after an edit; as it was, after a removal.
    before : the record as it was.
    findings : what is worth a look though it was taken.
    """

    number: int | None
    version: int
    record: dict[str, Any]
    before: dict[str, Any]
    findings: tuple[Finding, ...] = ()


def edit_maker(
    session: Session,
    name: str,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    raise NotImplementedError


def edit_cord(
    session: Session,
    name: str,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    raise NotImplementedError


def edit_whip(
    session: Session,
    label: str,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    raise NotImplementedError


def edit_stock(
    session: Session,
    key: int,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    raise NotImplementedError


def edit_reading(
    session: Session,
    key: int,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    raise NotImplementedError


def edit_rating(
    session: Session,
    key: int,
    changes: Mapping[str, Any],
    *,
    version: int | None = None,
    actor: str | None = None,
) -> Edited:
    raise NotImplementedError


def remove_maker(
    session: Session, name: str, *, version: int | None = None, actor: str | None = None
) -> Edited:
    raise NotImplementedError


def remove_cord(
    session: Session, name: str, *, version: int | None = None, actor: str | None = None
) -> Edited:
    raise NotImplementedError


def remove_whip(
    session: Session, label: str, *, version: int | None = None, actor: str | None = None
) -> Edited:
    raise NotImplementedError


def remove_stock(
    session: Session, key: int, *, version: int | None = None, actor: str | None = None
) -> Edited:
    raise NotImplementedError


def remove_reading(
    session: Session, key: int, *, version: int | None = None, actor: str | None = None
) -> Edited:
    raise NotImplementedError


def remove_rating(
    session: Session, key: int, *, version: int | None = None, actor: str | None = None
) -> Edited:
    raise NotImplementedError
