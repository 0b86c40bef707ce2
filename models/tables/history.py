"""What was changed: one row an edit, one row an import; nothing here is ever changed or removed."""

from typing import Any

from sqlalchemy import JSON
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Instant, Key


class HistoryRow(Base):
    """One change: the records before and after it, as they stand in a JSON Lines file.

    An edit holds one record on each side, an import a list with one entry per record it changed
    (before it null where the record was new).
    """

    __tablename__ = "history"

    id: Mapped[Key]
    created_at: Mapped[Instant]
    actor: Mapped[str | None]
    action: Mapped[str]
    subject: Mapped[str | None] = mapped_column(index=True)
    before: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    after: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
