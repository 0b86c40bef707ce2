"""The history of changes as the server answers it."""

import datetime as dt
from typing import Any, Literal

from pydantic import Field

from plaitlog.service.schemas.answers import Number, Wire


class EntryOut(Wire):
    """What a change did to one record."""

    kind: str = Field(description="Kind of record.")
    name: str = Field(description="Its label or name.")
    summary: str = Field(description="What was changed, in words.")
    before: dict[str, Any] | None = Field(description="The record before; null: there was none.")
    after: dict[str, Any] | None = Field(description="The record after; null: there is none any more.")


class ChangeOut(Wire):
    """One change: an edit, an import, an undo, a redo."""

    change: Number = Field(description="Its number.")
    created_at: dt.datetime = Field(description="When it was made, in UTC.")
    actor: str | None = Field(description="Who made it; null: not noted.")
    action: str = Field(description="record, import, edit, remove, undo, redo, ...")
    subject: str | None = Field(description="What it was about: a label, a name of a file; null: not noted.")
    of: Number | None = Field(description="Of an undo or redo: number of the change it is about.")
    undone: bool = Field(description="Whether it is undone now.")
    undoable: bool = Field(description="Whether it can be undone as things stand.")
    touched: dict[str, int] = Field(description="Number of records it touched, by kind.")
    entries: list[EntryOut] = Field(description="What it did, record by record; in a list perhaps not all.")


class ChangesOut(Wire):
    """Changes, the latest first."""

    items: list[ChangeOut] = Field(description="Changes, the latest first.")


class UndoneOut(Wire):
    """An undo or redo, which is a change too."""

    change: Number = Field(description="Number of this undo or redo itself.")
    action: Literal["undo", "redo"] = Field(description="What was done.")
    of: Number = Field(description="Number of the change that it is about.")
