"""Rating sessions: who judged a whip, when, and how."""

import datetime as dt

from sqlalchemy import CheckConstraint, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Editable, Key


class RatingSessionRow(Editable, Base):
    """One person's judgement on one day; without person and date it is the maker's own, noted in short.

    ``compared_with_id``: the whip it was thrown beside, which cannot go while it is named here.
    """

    __tablename__ = "rating_sessions"
    __table_args__ = (
        CheckConstraint("thong_handle BETWEEN -2 AND 2", name="thong_handle"),
        CheckConstraint("limp_stiff BETWEEN -2 AND 2", name="limp_stiff"),
        CheckConstraint("slow_quick BETWEEN -2 AND 2", name="slow_quick"),
    )

    id: Mapped[Key]
    whip_id: Mapped[int] = mapped_column(ForeignKey("whips.id", ondelete="CASCADE"), index=True)
    by: Mapped[str | None]
    on: Mapped[dt.date | None]
    hours_of_use: Mapped[float | None]
    fall: Mapped[str | None]
    cracker: Mapped[str | None]
    thong_handle: Mapped[float | None]
    limp_stiff: Mapped[float | None]
    slow_quick: Mapped[float | None]
    notes: Mapped[str | None]
    # Last, as a migration adds it.
    compared_with_id: Mapped[int | None] = mapped_column(ForeignKey("whips.id"), index=True, sort_order=1_000)


class ScoreRow(Base):
    """One quality in one session: a score, or a comparison ("better", "same", "worse").

    Where both are null it was not tried.
    """

    __tablename__ = "scores"
    __table_args__ = (
        UniqueConstraint("session_id", "quality"),
        CheckConstraint("score BETWEEN 1 AND 10", name="score"),
    )

    id: Mapped[Key]
    session_id: Mapped[int] = mapped_column(ForeignKey("rating_sessions.id", ondelete="CASCADE"))
    quality: Mapped[str]
    score: Mapped[float | None]
    comparison: Mapped[str | None]
