"""What stands on a bench sheet, text and numbers ready to be printed."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPart:
    """The whip beside one row of a table, its row in the middle: diameters in mm, None where nothing runs.

    before, after : at the row's upper edge and just above its middle; just below it and at its lower edge.
    inside_before, inside_after : of the body under the layer, likewise. marks : places to measure, as shares
    of the row's height from its top.
    """

    before: tuple[float, float] | None = None
    after: tuple[float, float] | None = None
    inside_before: tuple[float, float] | None = None
    inside_after: tuple[float, float] | None = None
    marks: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DropRow:
    """One place where something is to be done, or is done already; ``gap`` from the row before."""

    station: str
    gap: str
    strands: str
    pattern: str
    fate: str
    strip: StripPart = StripPart()
    done: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureRow:
    """A place to measure: what is expected there. on_layer : that it is noted on, empty once finished."""

    station: str
    on_layer: str
    interval: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerBlock:
    """One layer from end to end. to_do : before it is plaited. after : what follows it, to be ticked."""

    title: str
    to_do: tuple[str, ...]
    rows: tuple[DropRow, ...]
    after: tuple[str, ...]
    measures: tuple[MeasureRow, ...]
    weight: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    layer: str
    letter: str
    pieces: str
    length: str
    middle: str
    made: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TotalRow:
    letter: str
    cord: str
    metres: str
    grams: str
    lacks: str
    price: str


@dataclass(frozen=True, slots=True)
class Section:
    """A job with the steps that are ticked one after the other."""

    title: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSheet:
    """Everything printed, in the order of work.

    caution : stands beside the predicted numbers. cautions : a job and what to take care of in it.
    blanks_before, blanks_after : what is to be noted before and after the final readings, in the order in
    which recording asks for it.
    """

    label: str
    about: str
    facts: tuple[str, ...]
    cords: tuple[tuple[str, str], ...]
    rests_on: str
    caution: str
    estimates: tuple[str, ...]
    findings: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    defer: str
    length_unit: str
    diameter_unit: str
    cut: tuple[CutRow, ...]
    cut_words: str
    totals: tuple[TotalRow, ...]
    foundation: Section
    layers: tuple[LayerBlock, ...]
    parts: tuple[Section, ...]
    blanks_before: tuple[str, ...]
    final: tuple[MeasureRow, ...]
    blanks_after: tuple[str, ...]
