"""Makers of whips."""

from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Editable, Key


class MakerRow(Editable, Base):
    __tablename__ = "makers"

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(unique=True)
