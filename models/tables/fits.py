"""Stored fits. The one in use is marked; earlier ones stay and can be put back."""

from typing import Any

from sqlalchemy import JSON, Index, text
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Instant, Key

IN_USE = text("current")


class FitRow(Base):
    """One fit as JSON; ``fingerprint`` names the data it rests on; evidence is null when it was skipped."""

    __tablename__ = "fits"
    __table_args__ = (
        Index("uq_fits_current", "current", unique=True, sqlite_where=IN_USE, postgresql_where=IN_USE),
    )

    id: Mapped[Key]
    created_at: Mapped[Instant]
    code_version: Mapped[str]
    fingerprint: Mapped[str]
    artefact: Mapped[Any] = mapped_column(JSON(none_as_null=True))
    evidence: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    current: Mapped[bool]
