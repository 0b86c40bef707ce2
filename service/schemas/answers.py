"""What the server answers about records: each as it stands in an export, beside its version."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from plaitlog.service.schemas.cords import CordRecord, MakerRecord, StockRecord
from plaitlog.service.schemas.failures import Remark
from plaitlog.service.schemas.ratings import RatingRecord
from plaitlog.service.schemas.readings import ReadingRecord
from plaitlog.service.schemas.values import LengthMm
from plaitlog.service.schemas.whips import WhipRecord

Number = Annotated[int, Field(ge=1)]


class Wire(BaseModel):
    """An answer holds the keys named here and no others."""

    model_config = ConfigDict(extra="forbid")


class StoredOut(Wire):
    """One record of the workshop."""

    version: int = Field(description="Its version, to be named when it is edited or removed.")
    change: Number | None = Field(
        None,
        description="After adding or editing: number of the change in the history; null: nothing changed.",
    )
    findings: list[Remark] = Field([], description="After adding or editing: what is worth a look.")


class MakerOut(StoredOut):
    """A maker."""

    record: MakerRecord = Field(description="The maker as in a JSON Lines file.")


class CordOut(StoredOut):
    """A cord kind."""

    record: CordRecord = Field(description="The cord as in a JSON Lines file; sizes in mm.")


class WhipOut(StoredOut):
    """A whip."""

    record: WhipRecord = Field(description="The whip as in a JSON Lines file; lengths in mm, weights in g.")
    missing: list[str] | None = Field(
        None, description="When one whip is asked for: what is not known of it, and what for, in words."
    )


class KeyedOut(StoredOut):
    """What has a number in place of a name."""

    key: Number = Field(description="Its number in the workshop.")


class StockOut(KeyedOut):
    """Stock of one cord in one colour and lot."""

    record: StockRecord = Field(description="The stock as in a JSON Lines file; metres in m.")


class ReadingOut(KeyedOut):
    """A reading."""

    record: ReadingRecord = Field(description="The reading as in a JSON Lines file; sizes in mm.")


class RatingOut(KeyedOut):
    """A rating."""

    record: RatingRecord = Field(description="The rating as in a JSON Lines file.")


class WhipBriefOut(Wire):
    """One line of the list of whips."""

    label: str = Field(description="The whip's label.")
    version: int = Field(description="Its version, to be named when it is edited or removed.")
    maker: str | None = Field(description="Name of the maker; null: not known.")
    type: str | None = Field(description="bullwhip, stock whip, ...; null: not known.")
    status: str | None = Field(description="planned, on the bench, finished, ...; null: not known.")
    made_on: str | None = Field(description="Day it was finished, as 2026-03-02; null: not known.")
    thong_length_mm: LengthMm | None = Field(description="Length of the thong, mm; null: not known.")
    layers: int = Field(ge=0, description="Number of layers noted.")
    readings: int = Field(ge=0, description="Number of readings.")


class PageOut(Wire):
    """Some items of a list."""

    total: int = Field(ge=0, description="Number of items in the whole list.")
    offset: int = Field(ge=0, description="Number of items before these.")


class MakersPage(PageOut):
    """A page of the list of makers."""

    items: list[MakerOut] = Field(description="Makers by name.")


class CordsPage(PageOut):
    """A page of the list of cords."""

    items: list[CordOut] = Field(description="Cords by name.")


class WhipsPage(PageOut):
    """A page of the list of whips."""

    items: list[WhipBriefOut] = Field(description="Whips by label, in brief.")


class StockPage(PageOut):
    """A page of the list of stock."""

    items: list[StockOut] = Field(description="Stock in order of entry.")


class ReadingsPage(PageOut):
    """A page of the list of readings."""

    items: list[ReadingOut] = Field(description="Readings in order of entry.")


class RatingsPage(PageOut):
    """A page of the list of ratings."""

    items: list[RatingOut] = Field(description="Ratings in order of entry.")


class Removed(Wire):
    """Something was removed, and can be brought back."""

    change: Number = Field(description="Number of the change in the history: undo it to bring it back.")
