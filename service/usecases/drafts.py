"""Forms half filled in: kept as they are typed, offered again, gone when what they say is recorded.

A draft goes by a token that its form carries. When its form is kept the draft becomes a receipt, in the same
transaction, so that a form that is sent twice finds what the first did.
"""

import datetime as dt
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from plaitlog.models.tables.base import now
from plaitlog.models.tables.bench import DraftRow

RECEIPT: Final = "receipt"
ASIDE: Final = "aside: "
KEPT_FOR: Final = dt.timedelta(days=30)
"""How long receipts, and drafts that were put aside, stay."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A form as typed so far. ``tab`` is the window that saved it, ``turn`` counts its saves up."""

    token: str
    kind: str
    title: str
    texts: Mapping[str, str]
    tab: str
    turn: int
    changed_at: dt.datetime


@dataclass(frozen=True, slots=True)
class Receipt:
    """What became of a form that was kept: the name of what it recorded, and the change it was."""

    title: str
    change: int | None


@dataclass(frozen=True, slots=True)
class Kept:
    """Where a draft is kept now. ``beside``: under another token, as another window holds a newer one."""

    token: str
    turn: int
    beside: bool = False


def new_token() -> str:
    """A name for a draft that nobody guesses or hits by chance."""
    return secrets.token_urlsafe(12)


def keep(
    session: Session,
    token: str,
    kind: str,
    title: str,
    texts: Mapping[str, str],
    *,
    tab: str = "",
    turn: int = 0,
    seen: int = 0,
) -> Kept | Receipt:
    """Save a draft.

    Parameters
    ----------
    texts : what was typed, by field.
    tab, turn : the window it was typed in and the number of its save there: of one window's saves the one
        with the highest number stays, in whatever order they arrive.
    seen : number of the save that this window began with. Where another window has saved since, this one
        is kept beside it as a draft of its own, so that neither overwrites the other.
    """
    row = _row(session, token)
    if row is None:
        content = {"texts": dict(texts), "tab": tab, "turn": turn}
        session.add(DraftRow(token=token, kind=kind, title=title, content=content))
        return Kept(token, turn)
    if row.kind == RECEIPT:
        return Receipt(row.title, row.content.get("change"))
    stored = _draft(row)
    if stored.tab == tab:
        if turn < stored.turn:
            return Kept(token, stored.turn)
    elif seen < stored.turn:
        beside = new_token()
        keep(session, beside, kind, title, texts, tab=tab, turn=turn)
        return Kept(beside, turn, beside=True)
    turn = max(turn, stored.turn)
    row.kind, row.title = kind, title
    row.content = {"texts": dict(texts), "tab": tab, "turn": turn}
    return Kept(token, turn)


def one(session: Session, token: str) -> Draft | Receipt | None:
    """The draft of a token, or what became of it; None where nothing was saved under it."""
    row = _row(session, token)
    if row is None:
        return None
    return Receipt(row.title, row.content.get("change")) if row.kind == RECEIPT else _draft(row)


def drafts(session: Session, kind: str) -> list[Draft]:
    """Unfinished forms of a kind, the one touched last first."""
    rows = session.scalars(
        select(DraftRow).where(DraftRow.kind == kind).order_by(DraftRow.changed_at.desc(), DraftRow.id.desc())
    )
    return [_draft(row) for row in rows]


def put_aside(session: Session, token: str) -> None:
    """Take a draft off the list; it can be brought back for a while."""
    row = _row(session, token)
    if row is not None and row.kind != RECEIPT and not row.kind.startswith(ASIDE):
        row.kind = f"{ASIDE}{row.kind}"


def bring_back(session: Session, token: str) -> None:
    """Put a draft that was put aside on the list again."""
    row = _row(session, token)
    if row is not None:
        row.kind = row.kind.removeprefix(ASIDE)


def finish(session: Session, token: str, title: str, change: int | None) -> None:
    """The form is recorded: its draft goes, and a receipt stays for whoever sends the form again."""
    row = _row(session, token)
    if row is None:
        row = DraftRow(token=token, kind=RECEIPT, title=title, content={})
        session.add(row)
    row.kind, row.title, row.content = RECEIPT, title, {"change": change}
    old = (DraftRow.kind == RECEIPT) | DraftRow.kind.startswith(ASIDE)
    session.execute(delete(DraftRow).where(old, DraftRow.changed_at < now() - KEPT_FOR))


def remove(session: Session, token: str) -> None:
    """Forget a draft or a receipt for good."""
    session.execute(delete(DraftRow).where(DraftRow.token == token))


def _row(session: Session, token: str) -> DraftRow | None:
    return session.scalars(select(DraftRow).where(DraftRow.token == token)).one_or_none()


def _draft(row: DraftRow) -> Draft:
    content: Any = row.content
    return Draft(
        row.token, row.kind, row.title, content["texts"], content["tab"], content["turn"], row.changed_at
    )
