"""What a chart or drawing shows, as numbers; read from the dataclasses that are drawn."""

from typing import Literal

from pydantic import ConfigDict, Field

from plaitlog.service.schemas.answers import Wire
from plaitlog.service.schemas.failures import Remark


class Shown(Wire):
    """Read from what is drawn, attribute by attribute."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)


class ChartPointOut(Shown):
    """One strand count over one body."""

    strands: int = Field(description="Number of strands.")
    diameter_mm: float = Field(description="Finished diameter, mm, median.")
    low_90_mm: float = Field(description="Lower end of the 90 % interval, mm.")
    high_90_mm: float = Field(description="Upper end of the 90 % interval, mm.")
    cover: float | None = Field(description="Cover of the plait; null: it cannot be told.")
    lies_well: bool = Field(description="Whether the strands cover without bunching.")


class ChartCurveOut(Shown):
    """The plait over one body."""

    over_mm: float = Field(description="Diameter of the body under it, mm; 0: over nothing.")
    points: list[ChartPointOut] = Field(description="By rising strand count.")


class ChartReadingOut(Shown):
    """A recorded reading on a plait of this cord."""

    whip: str = Field(description="Label of the whip.")
    at_mm: float = Field(description="Station, mm from the whip's datum.")
    strands: float = Field(description="Number of strands there; the middle where only a range is noted.")
    over_mm: float = Field(description="Diameter of the body under it, mm, as the fit has it.")
    diameter_mm: float = Field(description="Diameter that was read, mm.")
    expected_mm: float = Field(description="Diameter that the fit expects there, mm.")
    mark: Literal["reading", "test plait", "doubtful"] = Field(description="How it is marked.")


class CordChartOut(Shown):
    """How thick a plait of one cord comes out, by strand count and by the body under it."""

    cord: str = Field(description="Name of the cord.")
    rests_on: str = Field(description="What the predictions rest on, in words.")
    caution: str = Field(description="What to keep in mind; to be shown beside the diameters.")
    curves: list[ChartCurveOut] = Field(description="One for each body, thinnest first.")
    readings: list[ChartReadingOut] = Field(description="Readings behind it; of very many, some.")
    readings_in_all: int = Field(description="Number of readings on plaits of this cord.")
    findings: list[Remark] = Field(description="What is worth knowing about the predictions.")


class SpanOut(Shown):
    """A number that is only known to lie between two; they agree where it is known."""

    low: float = Field(description="At least.")
    high: float = Field(description="At most.")


class SectionLayerOut(Shown):
    """One layer within a section."""

    place: int = Field(description="Place in the list of layers, from 1, innermost.")
    role: str = Field(description="core, belly, bolster, binding, overlay or filler.")
    count: SpanOut | None = Field(description="Number of strands; null: a layer without strands.")
    given: str = Field(description="Of a layer without strands: what it is and its size, in words.")
    outer_mm: float = Field(description="Diameter over it while it was outermost, mm, predicted.")


class SectionOut(Shown):
    """A stretch over which the stack does not change."""

    from_mm: float = Field(description="Where it begins, mm from the datum.")
    to_mm: float = Field(description="Where it ends, mm from the datum.")
    reason: str = Field(description="Why its stack is not known; empty where it is.")
    uncertain: bool = Field(description="Whether a strand count or a place is noted as a range here.")
    foundation_mm: float = Field(description="Diameter of the rod inside, mm; 0: none runs here.")
    layers: list[SectionLayerOut] = Field(description="Inside out.")
    diameter_mm: float = Field(description="Finished diameter, mm, median; 0 where the stack is not known.")
    low_90_mm: float = Field(description="Lower end of the 90 % interval, mm; 0 likewise.")
    high_90_mm: float = Field(description="Upper end of the 90 % interval, mm; 0 likewise.")


class DrawnReadingOut(Shown):
    """A measured diameter."""

    at_mm: float = Field(description="Station, mm from the datum.")
    diameter_mm: float = Field(description="Diameter that was read, mm.")
    after_layer: int | None = Field(description="Outermost layer when it was read; null: finished.")
    doubtful: bool = Field(description="Whether the maker doubts it.")


class WhipDrawingOut(Shown):
    """Everything that the drawing of a whip shows."""

    label: str = Field(description="The whip's label.")
    datum: str = Field(description="Where stations are counted from.")
    start_mm: float = Field(description="Where the drawing begins, mm from the datum.")
    end_mm: float = Field(description="Where the drawing ends, mm from the datum.")
    point_mm: float | None = Field(description="The point, mm from the datum; null: it is not known.")
    rests_on: str = Field(description="What the predictions rest on, in words.")
    caution: str = Field(description="What to keep in mind; to be shown beside the diameters.")
    sections: list[SectionOut] = Field(description="From the datum on.")
    readings: list[DrawnReadingOut] = Field(description="Readings by station.")
    remarks: list[str] = Field(description="What is worth knowing, in words.")
