"""Tables that hold nothing of their own: what was worked out from the records, and can be again at any time.

They stand apart from the records (another ``MetaData``), so that whatever goes over all tables, as undo and
exports do, leaves them alone. Whoever writes a record drops the rows that were worked out from it.
"""

from typing import Any

from sqlalchemy import JSON, ForeignKey, LargeBinary, MetaData
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from plaitlog.models.tables.base import NAMING
from plaitlog.models.tables.whips import WhipRow


class Derived(DeclarativeBase):
    """Root of the tables that are worked out from others."""

    metadata = MetaData(naming_convention=NAMING)


class GatheredRow(Derived):
    """What a fit learns from one whip: its readings on known stacks, as columns of numbers.

    ``made_by`` names the version that worked it out; a row of another version counts for nothing.
    ``columns`` name cords by key and hold no size of any cord. ``lots``: names of the lots that the columns
    number, null for none. ``left_out``: reason -> how many readings take no part, null for none.
    """

    __tablename__ = "gathered"

    whip_id: Mapped[int] = mapped_column(ForeignKey(WhipRow.id, ondelete="CASCADE"), primary_key=True)
    made_by: Mapped[str]
    columns: Mapped[bytes] = mapped_column(LargeBinary)
    lots: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    left_out: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
