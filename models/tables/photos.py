"""Photos of whips. What a picture holds is kept by its digest and never changed: undo need not copy it."""

from sqlalchemy import CheckConstraint, ForeignKey, LargeBinary
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Editable, Instant, Key


class PhotoContentRow(Base):
    """A picture as it was encoded anew, without metadata: whole and small, both JPEG; sizes in pixels."""

    __tablename__ = "photo_contents"
    __table_args__ = (CheckConstraint("width > 0 AND height > 0", name="size"),)

    id: Mapped[Key]
    created_at: Mapped[Instant]
    digest: Mapped[str] = mapped_column(unique=True)
    width: Mapped[int]
    height: Mapped[int]
    whole: Mapped[bytes] = mapped_column(LargeBinary)
    small: Mapped[bytes] = mapped_column(LargeBinary)


class PhotoRow(Editable, Base):
    """One photo of a whip, in the order of entry."""

    __tablename__ = "photos"

    id: Mapped[Key]
    whip_id: Mapped[int] = mapped_column(ForeignKey("whips.id", ondelete="CASCADE"), index=True)
    content_id: Mapped[int] = mapped_column(ForeignKey("photo_contents.id"), index=True)
    caption: Mapped[str | None]
