"""What a drawing of a whip shows, in mm and in the whip's own datum, and the same as a table of stations."""

from dataclasses import dataclass
from typing import Literal

from plaitlog.models.stack import StackRole
from plaitlog.models.whip import PlaceKind, Role, Span
from plaitlog.service.reports.shown import Shown

Rest = Literal["point", "end", "not noted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnStep:
    """From somewhere between two places on, ``count`` strands run; ``kind`` says how the place was noted."""

    low_mm: float
    high_mm: float
    count: str
    kind: PlaceKind = "at"

    @property
    def mid_mm(self) -> float:
        return (self.low_mm + self.high_mm) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLayer:
    """One listed layer, ``place`` from 1, innermost: its strands along the thong, or where a given one lies.

    ``rest``: it runs to the point, ends at the last step, or how it goes on is not noted. ``steps`` is empty
    where nothing is noted of its strands; ``made_of`` names cords or what it is.
    """

    place: int
    role: Role
    made_of: str
    steps: tuple[DrawnStep, ...] = ()
    rest: Rest = "not noted"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionLayer:
    """A layer within a section: the predicted diameter over it while it was outermost.

    ``count`` is None for a layer without strands, described by ``given``.
    """

    place: int
    role: StackRole
    outer_mm: float
    count: Span | None = None
    given: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A stretch over which the stack does not change; ``reason`` says why it is not known, else is empty.

    ``diameter_mm`` with its 90 % interval is the finished one, 0 where nothing is known. ``uncertain``: a
    strand count or a place is noted as a range here.
    """

    from_mm: float
    to_mm: float
    layers: tuple[SectionLayer, ...] = ()
    foundation_mm: float = 0.0
    diameter_mm: float = 0.0
    low_90_mm: float = 0.0
    high_90_mm: float = 0.0
    uncertain: bool = False
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnReading:
    """A measured diameter; ``after_layer`` is None on the finished whip."""

    at_mm: float
    diameter_mm: float
    after_layer: int | None = None
    doubtful: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WhipDrawing:
    """Everything the drawing shows, from ``start_mm`` to ``end_mm``.

    ``handle_to_mm``: the handle runs from the start to there, None where there is none or it is not noted;
    it is drawn apart where no section lies on it. ``point_mm`` is None where the thong's length is not known.
    """

    label: str
    about: str
    lengths: str
    datum: str
    start_mm: float
    end_mm: float
    point_mm: float | None
    layers: tuple[DrawnLayer, ...]
    sections: tuple[Section, ...]
    readings: tuple[DrawnReading, ...]
    shown: Shown
    rests_on: str
    caution: str
    handle_to_mm: float | None = None
    handle_diameter_mm: float | None = None
    foundation_mm: float = 0.0
    foundation_to_mm: float = 0.0
    remarks: tuple[str, ...] = ()


def to_table(drawing: WhipDrawing) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heads and rows: one row where the stack changes, and one for each station with a reading.

    Under a layer stands its strand count, ``+2`` what runs inside as filler, ``0-2`` a range.
    """
    shown = drawing.shown
    heads = (
        "at",
        *(f"{layer.place} {layer.role}" for layer in drawing.layers),
        "predicted",
        "90 %",
        "measured",
    )
    stations = {section.from_mm for section in drawing.sections}
    stations |= {reading.at_mm for reading in drawing.readings}
    rows = []
    for at_mm in sorted(stations):
        section = section_at(drawing, at_mm)
        counts = [count_in(section, layer.place) for layer in drawing.layers]
        if section is None or section.reason:
            told = ("", section.reason if section else "not drawn")
        else:
            told = (
                shown.diameter(section.diameter_mm),
                shown.interval(section.low_90_mm, section.high_90_mm),
            )
        rows.append((shown.length(at_mm), *counts, *told, _measured(drawing, at_mm)))
    return heads, rows


def section_at(drawing: WhipDrawing, at_mm: float) -> Section | None:
    """The section that a station lies in: the later one where two meet."""
    found = [section for section in drawing.sections if section.from_mm <= at_mm <= section.to_mm]
    return found[-1] if found else None


def layer_bounds(section: Section, place: int, role: str) -> tuple[float, float] | None:
    """Inner and outer diameter of a layer in a section; None where it does not lie there."""
    if role == "foundation":
        return (0.0, section.foundation_mm) if section.foundation_mm else None
    inner = min(section.foundation_mm, section.diameter_mm)
    for layer in section.layers:
        if (layer.place, layer.role) == (place, role):
            return inner, layer.outer_mm
        inner = layer.outer_mm
    return None


def span_text(span: Span) -> str:
    """A strand count: 12, or 12-16 where it is a range."""
    return f"{span.low:g}" if span.exact else f"{span.low:g}-{span.high:g}"


def count_in(section: Section | None, place: int) -> str:
    """What lies of a listed layer in a section: 12, +2 where strands run inside as filler, 0-2 a range."""
    if section is None:
        return ""
    said = []
    for layer in section.layers:
        if layer.place != place:
            continue
        text = layer.given if layer.count is None else span_text(layer.count)
        said.append(f"+{text}" if layer.role == "filler" else text)
    return " ".join(sorted(said, key=lambda text: text.startswith("+")))


def _measured(drawing: WhipDrawing, at_mm: float) -> str:
    said = []
    for reading in drawing.readings:
        if reading.at_mm == at_mm:
            on = "" if reading.after_layer is None else f" on layer {reading.after_layer}"
            doubt = "?" if reading.doubtful else ""
            said.append(f"{drawing.shown.diameter_number(reading.diameter_mm)}{doubt}{on}")
    return " / ".join(said)
