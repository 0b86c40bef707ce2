"""What lies on the bench and is no record yet: forms half filled in, long jobs under way."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Instant, Key, now

JOB_STATES = ("waiting", "running", "done", "failed", "cancelled", "interrupted")


class DraftRow(Base):
    """A form as it was typed so far. ``token`` names it in addresses; ``content`` holds texts by field.

    ``kind`` says which form it is; ``title`` is what a list of drafts calls it.
    """

    __tablename__ = "drafts"

    id: Mapped[Key]
    created_at: Mapped[Instant]
    changed_at: Mapped[Instant] = mapped_column(onupdate=now)
    token: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    content: Mapped[Any] = mapped_column(JSON(none_as_null=True))


class JobRow(Base):
    """Work that takes long. ``asked`` is what it is to do, ``result`` what came of it, as plain data.

    ``doing`` says in words what goes on, or how it ended; ``done_share`` is in 0..1 and never falls.
    """

    __tablename__ = "jobs"
    __table_args__ = (
        CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled', 'interrupted')", name="state"
        ),
        CheckConstraint("done_share >= 0 AND done_share <= 1", name="done_share"),
    )

    id: Mapped[Key]
    created_at: Mapped[Instant]
    changed_at: Mapped[Instant] = mapped_column(onupdate=now)
    kind: Mapped[str]
    state: Mapped[str] = mapped_column(index=True)
    doing: Mapped[str]
    done_share: Mapped[float]
    asked: Mapped[Any] = mapped_column(JSON(none_as_null=True))
    result: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
