"""What every table shares: naming of constraints, column types, instants in UTC."""

import datetime as dt
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from sqlalchemy import JSON, DateTime, Dialect, Double, MetaData, String, Table, TypeDecorator
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcDateTime(TypeDecorator[dt.datetime]):
    """An instant, always aware and in UTC; SQLite, which knows no zones, holds it as naive UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant without a time zone cannot be stored")
        return value.astimezone(dt.UTC)

    def process_result_value(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)


class Base(DeclarativeBase):
    """Root of the tables. A key is never given twice, so that a row that was removed can come back."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        float: Double(),
        str: String(),
        dt.datetime: UtcDateTime(),
        Mapping[str, str]: JSON(none_as_null=True),
    }

    def __init_subclass__(cls, **keywords: Any) -> None:
        super().__init_subclass__(**keywords)
        assert isinstance(cls.__table__, Table)
        cls.__table__.dialect_options["sqlite"]["autoincrement"] = True  # PostgreSQL does so anyway


def now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


Key = Annotated[int, mapped_column(primary_key=True)]
"""Integer primary key; within one table later entries have higher keys."""
Instant = Annotated[dt.datetime, mapped_column(default=now)]
Typed = Annotated[Mapping[str, str] | None, mapped_column(JSON(none_as_null=True))]
"""Per key, the text as the maker typed it, kept beside the value in mm, g or g/m; null: nothing was typed."""


class Editable:
    """Rows that can be edited.

    ``version`` is the number of the change (``history.id``) that the content comes from, so that an edit
    that rests on older content is noticed. An undo brings the older content back, and its number with it.
    Rows that were there before changes were numbered keep a smaller number than any change to come.
    """

    created_at: Mapped[Instant]
    version: Mapped[int] = mapped_column(default=0)
