"""Every kind of record that a JSON Lines file may hold, one a line."""

from typing import Annotated

from pydantic import Field, TypeAdapter

from plaitlog.service.schemas.cords import CordRecord, MakerRecord, StockRecord
from plaitlog.service.schemas.ratings import RatingRecord
from plaitlog.service.schemas.readings import ReadingRecord
from plaitlog.service.schemas.whips import WhipRecord

Record = Annotated[
    MakerRecord | CordRecord | StockRecord | WhipRecord | RatingRecord | ReadingRecord,
    Field(discriminator="kind"),
]

KINDS = ("maker", "cord", "stock", "whip", "rating", "reading")
"""In the order in which an export writes them (a reading stands within its whip)."""

any_record: TypeAdapter[Record] = TypeAdapter(Record)
