"""The layers of a whip, their cords and their strand schedules as steps."""

from sqlalchemy import CheckConstraint, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Key, Typed


class LayerRow(Base):
    """One layer; ``position`` counts from 1, innermost.

    ``rest`` is what follows the last step (point, not noted); null: the whole schedule is not noted.
    """

    __tablename__ = "layers"
    __table_args__ = (UniqueConstraint("whip_id", "position"),)

    id: Mapped[Key]
    whip_id: Mapped[int] = mapped_column(ForeignKey("whips.id", ondelete="CASCADE"))
    position: Mapped[int]
    role: Mapped[str]
    rest: Mapped[str | None]
    fate: Mapped[str | None]
    fate_length_mm: Mapped[float | None]
    fate_gutted: Mapped[bool | None]
    fate_until_mm: Mapped[float | None]
    diameter_mm: Mapped[float | None]
    thickness_mm: Mapped[float | None]
    from_mm: Mapped[float | None]
    to_mm: Mapped[float | None]
    what: Mapped[str | None]
    notes: Mapped[str | None]
    typed: Mapped[Typed]


class LayerCordRow(Base):
    """One cord of a layer, its share of the strands, its letter in the line notation, the lot it is from."""

    __tablename__ = "layer_cords"
    __table_args__ = (UniqueConstraint("layer_id", "position"),)

    id: Mapped[Key]
    layer_id: Mapped[int] = mapped_column(ForeignKey("layers.id", ondelete="CASCADE"))
    position: Mapped[int]
    cord_id: Mapped[int] = mapped_column(ForeignKey("cords.id"), index=True)
    share: Mapped[float]
    letter: Mapped[str | None]
    lot: Mapped[str | None]


class StepRow(Base):
    """From a place on, which may be a span, other strand counts run; fate is that of strands dropped here."""

    __tablename__ = "steps"
    __table_args__ = (
        UniqueConstraint("layer_id", "position"),
        CheckConstraint("place_low_mm <= place_high_mm", name="place"),
    )

    id: Mapped[Key]
    layer_id: Mapped[int] = mapped_column(ForeignKey("layers.id", ondelete="CASCADE"))
    position: Mapped[int]
    place_kind: Mapped[str]
    place_low_mm: Mapped[float]
    place_high_mm: Mapped[float]
    pattern: Mapped[str | None]
    fate: Mapped[str | None]
    fate_length_mm: Mapped[float | None]
    fate_gutted: Mapped[bool | None]
    fate_until_mm: Mapped[float | None]


class StepCountRow(Base):
    """Strands of one of the layer's cords from a step on; low and high agree where the count is known."""

    __tablename__ = "step_counts"
    __table_args__ = (
        UniqueConstraint("step_id", "cord_position"),
        CheckConstraint("low >= 0 AND low <= high", name="span"),
    )

    id: Mapped[Key]
    step_id: Mapped[int] = mapped_column(ForeignKey("steps.id", ondelete="CASCADE"))
    cord_position: Mapped[int]
    low: Mapped[float]
    high: Mapped[float]
