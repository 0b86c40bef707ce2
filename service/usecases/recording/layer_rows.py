"""A layer filled in row by row, for whoever does not want the notation: from rows to one line, and back."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from plaitlog.models.errors import InputError
from plaitlog.models.notation import parse_schedule
from plaitlog.models.notation.counts import print_counts
from plaitlog.models.notation.place import print_place
from plaitlog.models.notation.text import print_number
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import Fate, Role
from plaitlog.service.usecases.recording.layers import is_given, letters_of, role_of, with_head

FATES: Final = ("cut", "tuck", "tuck gut", "run", "run gut")
"""What may become of dropped strands; empty: not noted."""
CLOSINGS: Final = ("p", "end", "?")
"""How a layer goes on after its last row: to the point, to an end not noted where, not noted."""


@dataclass(frozen=True, slots=True)
class LayerRow:
    """From a place on so many strands run; what became of those dropped, and how long they are tucked."""

    place: str
    count: str
    fate: str = ""
    tucked: str = ""

    @property
    def is_empty(self) -> bool:
        return not (self.place or self.count)


@dataclass(frozen=True, slots=True)
class LayerRows:
    """A layer: its role, its strands at the start, rows, and how it goes on after the last of them."""

    role: str
    start: str
    rows: tuple[LayerRow, ...] = ()
    closing: str = "p"

    @property
    def is_empty(self) -> bool:
        return not self.start and all(row.is_empty for row in self.rows)


def line_of_layer(layer: LayerRows) -> str:
    """The same layer in one line of notation. What is missing in a row is missing in the line too."""
    pieces = [f"{layer.role} {layer.start}".strip()]
    held, ended = "", False
    for row in layer.rows:
        if row.is_empty:
            continue
        ended = row.count in {"0", "end"}
        fate = _fate(row)
        said = "" if fate == held else fate or "?"
        held = fate
        pieces.append(f"{row.place}: {' '.join(filter(None, (_change(row.count), said)))}")
    if not ended:
        pieces.append(layer.closing)
    return "; ".join(pieces)


def _change(count: str) -> str:
    if count in {"0", "end"}:
        return "end"
    return count if count[:1] in {"+", "-", "="} else f"={count}"


def _fate(row: LayerRow) -> str:
    kind, _, gut = row.fate.partition(" ")
    return " ".join(filter(None, (kind, row.tucked if kind == "tuck" else "", gut)))


def rows_of_layer(line: str, proposed: Role, unit: LengthUnit, point_mm: float | None) -> LayerRows | None:
    """A line of notation as rows; None where it cannot be read, or states a size instead of strands."""
    role, rest = role_of(line, proposed)
    if not rest or is_given(role, rest):
        return None
    names = {letter: letter for letter in letters_of(rest)}
    try:
        parsed = parse_schedule(with_head(rest, unit), letters=names, point_mm=point_mm)
    except InputError:
        return None
    letters = [cord.letter or "" for cord in parsed.cords] or [""]
    steps = parsed.schedule.steps
    if (steps[0].place.kind, steps[0].place.high_mm) != ("at", 0.0):
        return None  # rows begin at the datum
    rows = []
    for step in steps[1:]:
        fate = step.fate or parsed.fate
        counts = "0" if step.total.high == 0 else _patterned(print_counts(step.counts, letters), step.pattern)
        rows.append(LayerRow(print_place(step.place, unit), counts, *_words(fate, unit)))
    closing = "p" if parsed.schedule.rest == "point" else "?"
    start = _patterned(print_counts(steps[0].counts, letters), steps[0].pattern)
    return LayerRows(role, start, tuple(rows), closing)


def _patterned(counts: str, pattern: str | None) -> str:
    return f"{counts} {pattern}" if pattern else counts


def _words(fate: Fate | None, unit: LengthUnit) -> Sequence[str]:
    if fate is None:
        return "", ""
    length = "" if fate.length_mm is None else print_number(fate.length_mm, unit)
    return f"{fate.kind}{' gut' if fate.gutted else ''}", length


@dataclass(frozen=True, slots=True)
class GivenSize:
    """A layer without strands: role, size with its unit, what it is, from where to where it lies."""

    role: str
    size: str
    what: str = ""
    begins: str = ""
    ends: str = ""


def line_of_size(layer: GivenSize, diameters: LengthUnit) -> str:
    """The same in one line; a size without a unit is meant in ``diameters``."""
    size = layer.size if not layer.size or layer.size[-1].isalpha() else f"{layer.size} {diameters}"
    parts = [layer.role, size, layer.what]
    parts += [f"from {layer.begins}"] if layer.begins else []
    parts += [f"to {layer.ends}"] if layer.ends else []
    return " ".join(filter(None, parts))
