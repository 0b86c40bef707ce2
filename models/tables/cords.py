"""Cord kinds, which a fit learns about, apart from the cord in stock."""

from sqlalchemy import CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column

from plaitlog.models.tables.base import Base, Editable, Key, Typed


class CordRow(Editable, Base):
    """A cord kind: sizes in mm, linear density in g/m, fibre density in g/cm3."""

    __tablename__ = "cords"
    __table_args__ = (
        CheckConstraint("diameter_mm > 0", name="diameter"),
        CheckConstraint("linear_density_g_per_m > 0", name="linear_density"),
    )

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(unique=True)
    material: Mapped[str]
    construction: Mapped[str]
    diameter_mm: Mapped[float | None]
    pressed_mm: Mapped[float | None]
    flat_width_mm: Mapped[float | None]
    linear_density_g_per_m: Mapped[float | None]
    fibre_density_g_per_cm3: Mapped[float | None]
    supplier: Mapped[str | None]
    price_per_m: Mapped[float | None]
    notes: Mapped[str | None]
    typed: Mapped[Typed]


class CordStockRow(Editable, Base):
    """Metres of one cord in one colour and lot, as bought."""

    __tablename__ = "cord_stock"

    id: Mapped[Key]
    cord_id: Mapped[int] = mapped_column(ForeignKey("cords.id"), index=True)
    colour: Mapped[str | None]
    lot: Mapped[str | None]
    metres: Mapped[float | None]
    price_per_m: Mapped[float | None]
    notes: Mapped[str | None]
