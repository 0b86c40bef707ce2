"""Readings filled in row by row, station and diameters: from rows to one line of notation, and back."""

from dataclasses import dataclass
from itertools import groupby

from plaitlog.models.errors import InputError
from plaitlog.models.notation import parse_readings
from plaitlog.models.notation.text import print_number, print_size
from plaitlog.models.whip import Layer, Reading
from plaitlog.service.usecases.recording.readings import with_readings_head
from plaitlog.service.usecases.shown_units import ShownUnits


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One or two diameters at a station, or at a named place: thick, mid, p."""

    at: str
    first: str
    second: str = ""

    @property
    def is_empty(self) -> bool:
        return not (self.at or self.first or self.second)


@dataclass(frozen=True, slots=True)
class ReadingRows:
    """Rows that were read in one state: over which layer (empty: finished), in which condition."""

    rows: tuple[ReadingRow, ...] = ()
    over: str = ""
    condition: str = ""

    @property
    def is_empty(self) -> bool:
        return all(row.is_empty for row in self.rows)


def line_of_readings(readings: ReadingRows) -> str:
    """The same readings in one line of notation."""
    pieces = []
    for row in readings.rows:
        if not row.is_empty:
            sizes = "/".join(filter(None, (row.first, row.second)))
            pieces.append(f"{row.at} {sizes}" if row.at[:1].isalpha() else f"{row.at}: {sizes}")
    head = ", ".join(filter(None, (readings.over, readings.condition)))
    return f"{head}: {'; '.join(pieces)}" if head else "; ".join(pieces)


def rows_of_readings(line: str, layers: tuple[Layer, ...], typed_in: ShownUnits) -> ReadingRows | None:
    """A line of notation as rows; None where it cannot be read, or has more than two columns would hold."""
    try:
        parsed = parse_readings(with_readings_head(line, typed_in), layers=layers, point_mm=None)
    except InputError:
        return None
    if not parsed.readings or any(reading.diameter_mm is None for reading in parsed.readings):
        return None
    rows = []
    for at, group in groupby(parsed.readings, lambda reading: _at(reading, typed_in)):
        sizes = [_size(reading, typed_in) for reading in group]
        rows += [ReadingRow(at, *sizes[k : k + 2]) for k in range(0, len(sizes), 2)]
    first = parsed.readings[0]
    over = "" if first.after_layer is None else f"layer {first.after_layer}"
    return ReadingRows(tuple(rows), over, first.condition or "")


def _at(reading: Reading, typed_in: ShownUnits) -> str:
    if reading.place is not None:
        return "p" if reading.place == "point" else reading.place
    return "" if reading.at_mm is None else print_number(reading.at_mm, typed_in.lengths)


def _size(reading: Reading, typed_in: ShownUnits) -> str:
    return print_size(reading.size_mm, typed_in.diameters) + ("?" if reading.doubtful else "")
