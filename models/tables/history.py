"""What was changed: one row an edit, one an import, one an undo; nothing here is ever changed or removed."""

from typing import Any

from sqlalchemy import JSON, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Instant, Key


class HistoryRow(Base):
    """One change. ``of`` names the change that an undo or a redo is about; it has no entries of its own.

    Whether a change holds now is not stored: it holds unless the last row that is about it is an undo.
    """

    __tablename__ = "history"

    id: Mapped[Key]
    created_at: Mapped[Instant]
    actor: Mapped[str | None]
    action: Mapped[str]
    subject: Mapped[str | None] = mapped_column(index=True)
    of: Mapped[int | None] = mapped_column(ForeignKey("history.id"), index=True)


class HistoryEntryRow(Base):
    """One noun that a change touched.

    ``before`` and ``after`` are its record as in a JSON Lines file, null where it was not there. ``name`` is
    that of the noun (of the whip for a reading or a rating, of the cord for stock); ``former_name`` the one
    it had before, where the change renamed it. ``images`` holds, by table, each row that was written, as a
    pair of the row before and after; columns that are null are left out. Null: the change was made before
    rows were kept, and cannot be undone.
    """

    __tablename__ = "history_entries"

    id: Mapped[Key]
    history_id: Mapped[int] = mapped_column(ForeignKey("history.id"), index=True)
    kind: Mapped[str]
    name: Mapped[str] = mapped_column(index=True)
    former_name: Mapped[str | None] = mapped_column(index=True)
    before: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    after: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    images: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
