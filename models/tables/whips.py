"""Whips as recorded, and what is noted about the whole whip."""

import datetime as dt
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Editable, Key, Typed


class WhipRow(Editable, Base):
    """One whip: lengths in mm from its datum; ``"none"`` in a text column means known to be absent.

    ``foundation_known``: null not known, ``none`` known to have none, ``given`` see the columns beside it.
    ``finish`` holds a list of words or the text ``none``, ``plan`` a document.
    """

    __tablename__ = "whips"
    __table_args__ = (CheckConstraint("thong_length_mm > 0", name="thong_length"),)

    id: Mapped[Key]
    label: Mapped[str] = mapped_column(unique=True)
    maker_id: Mapped[int | None] = mapped_column(ForeignKey("makers.id"), index=True)
    type: Mapped[str | None]
    status: Mapped[str | None]
    made_on: Mapped[dt.date | None]
    build_number: Mapped[int | None]
    datum: Mapped[str | None]
    thong_length_mm: Mapped[float | None]
    quoted_length: Mapped[str | None]
    handle_length_mm: Mapped[float | None]
    handle_diameter_mm: Mapped[float | None]
    foundation_known: Mapped[str | None]
    foundation_diameter_mm: Mapped[float | None]
    foundation_to_mm: Mapped[float | None]
    foundation_material: Mapped[str | None]
    foundation_typed: Mapped[Typed]
    layers_complete: Mapped[bool | None]
    finish: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    balance_at_mm: Mapped[float | None]
    balance_from: Mapped[str | None]
    balance_how: Mapped[str | None]
    balance_typed: Mapped[Typed]
    hours: Mapped[float | None]
    fall: Mapped[str | None]
    cracker: Mapped[str | None]
    notes: Mapped[str | None]
    typed: Mapped[Typed]
    # Last, as a migration adds it.
    plan: Mapped[Any | None] = mapped_column(JSON(none_as_null=True), sort_order=1_000)


class CordUseRow(Base):
    """Metres of a cord that went into a whip."""

    __tablename__ = "cord_uses"

    id: Mapped[Key]
    whip_id: Mapped[int] = mapped_column(ForeignKey("whips.id", ondelete="CASCADE"), index=True)
    cord_id: Mapped[int] = mapped_column(ForeignKey("cords.id"), index=True)
    metres: Mapped[float]
