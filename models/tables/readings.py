"""What was measured on a whip: diameters, turn lengths, weights."""

import datetime as dt
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Editable, Key, Typed


class ReadingRow(Editable, Base):
    """One diameter by calipers, or one girth by tape, at a station (mm from the datum) or a named place."""

    __tablename__ = "readings"
    __table_args__ = (
        CheckConstraint("(diameter_mm IS NULL) <> (girth_mm IS NULL)", name="one_size"),
        CheckConstraint("diameter_mm > 0", name="diameter"),
        CheckConstraint("girth_mm > 0", name="girth"),
        CheckConstraint("at_mm IS NOT NULL OR place IS NOT NULL", name="station"),
    )

    id: Mapped[Key]
    whip_id: Mapped[int] = mapped_column(ForeignKey("whips.id", ondelete="CASCADE"), index=True)
    at_mm: Mapped[float | None]
    place: Mapped[str | None]
    diameter_mm: Mapped[float | None]
    girth_mm: Mapped[float | None]
    tape_mm: Mapped[float | None]
    after_layer: Mapped[int | None]
    condition: Mapped[str | None]
    doubtful: Mapped[bool]
    on: Mapped[dt.date | None]
    notes: Mapped[str | None]
    typed: Mapped[Typed]


class TurnLengthRow(Base):
    __tablename__ = "turn_lengths"
    __table_args__ = (CheckConstraint("turn_mm > 0", name="turn"),)

    id: Mapped[Key]
    whip_id: Mapped[int] = mapped_column(ForeignKey("whips.id", ondelete="CASCADE"), index=True)
    at_mm: Mapped[float]
    turn_mm: Mapped[float]
    after_layer: Mapped[int | None]
    typed: Mapped[Typed]


class WeightRow(Base):
    """One weighing in g; ``with_parts``: a list of parts on the scale too, the text ``none``, or null."""

    __tablename__ = "weights"
    __table_args__ = (CheckConstraint("weight_g > 0", name="weight"),)

    id: Mapped[Key]
    whip_id: Mapped[int] = mapped_column(ForeignKey("whips.id", ondelete="CASCADE"), index=True)
    weight_g: Mapped[float]
    with_parts: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    after_layer: Mapped[int | None]
    typed: Mapped[Typed]
