"""Where to measure a whip: every so far, or a list of one's own, off drops, transition and fall hitch.

That nothing is measured within 20 mm of these is common practice, no source.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor
from typing import Final

from plaitlog.models.errors import Finding, InputError, UnitError
from plaitlog.models.units import LENGTH, LengthUnit, parse_length
from plaitlog.models.units_scan import MM_PER, plain_marks, scan_measure
from plaitlog.models.whip import NONE, Whip
from plaitlog.service.usecases.planning.sheet import bare_from_mm
from plaitlog.service.usecases.planning.sheet_places import OFF_DROP_MM, grid_of, on_tape, tape_text
from plaitlog.service.usecases.recording.answers import with_unit
from plaitlog.service.usecases.recording.proposals import TEST_PLAIT, WITHOUT_FALL
from plaitlog.service.usecases.shown_units import ShownUnits

MOST: Final = 200
"""Stations in one run at most (own choice: a thong of 5 m every inch)."""
BETWEEN_MARKS_MM: Final = 0.01
NEAR_END: Final = "as near the end as it can be measured"
WITH_KEEPER: Final = "stock whip"
_LISTED: Final = re.compile(r"[;\n]|,(?!\d)")
_EVERY_FIELD: Final = "every"
_LIST_FIELD: Final = "list"


@dataclass(frozen=True, slots=True)
class Station:
    """A place to measure in mm from the datum, as it is said on a tape, and what is to be known about it."""

    at_mm: float
    text: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Stations:
    """Places from the handle end on; ``left_out`` says in words where there is none that was asked for."""

    places: tuple[Station, ...]
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Awkward:
    """Places that are not measured, with their names: what lies nearer than 20 mm to one is off."""

    changes: tuple[tuple[float, float, str], ...]
    from_mm: float
    to_mm: float
    at_start: str

    def near(self, at_mm: float) -> str:
        """What is in the way of measuring at a place, in words; empty where nothing is."""
        if at_mm < self.from_mm:
            return self.at_start
        if at_mm > self.to_mm:
            return "on the fall hitch"
        for low, high, name in self.changes:
            if low - OFF_DROP_MM < at_mm < high + OFF_DROP_MM:
                return name
        return ""


def awkward(whip: Whip, after_layer: int | None) -> Awkward:
    """Where a whip is not measured with the layers up to one (counted from 1; None: finished) on it."""
    hitch = after_layer is None and whip.fall != NONE and whip.type not in WITHOUT_FALL
    keeper = after_layer is None and whip.type == WITH_KEEPER
    bare_from = 0.0 if whip.type == TEST_PLAIT else bare_from_mm(whip)
    point = whip.point_mm
    return Awkward(
        tuple(_changes(whip, after_layer)),
        bare_from + OFF_DROP_MM if keeper else bare_from,
        point - OFF_DROP_MM if hitch and point is not None else float("inf"),
        "at the keeper" if keeper else "on the transition",
    )


def stations_every(whip: Whip, after_layer: int | None, typed: str, shown: ShownUnits) -> Stations:
    """Places every so far, and one at the end; an awkward one is moved to the nearest good place.

    Raises
    ------
    InputError
        Where the distance cannot be read, or it is not known how far the thong runs.
    """
    text, spacing = _length(typed, shown.lengths, _EVERY_FIELD)
    if spacing <= 0:
        raise _mend(f"{typed!r} is no distance", "write it like 6 in or 150 mm", _EVERY_FIELD)
    start, end = run_of(whip, after_layer)
    if end is None:
        raise _mend(
            "it is not noted how long the thong is", "list the stations, or note its length", _EVERY_FIELD
        )
    if (end - start) / spacing > MOST:
        raise _mend(f"that makes more than {MOST} stations", "measure further apart", _EVERY_FIELD)
    unit = _tape(text, shown.lengths)
    off = awkward(whip, after_layer)
    found: dict[float, Station] = {}
    left_out: list[str] = []
    for at, last in _evenly(start, end, spacing, unit):
        wanted = _said(at, unit)
        why = off.near(at)
        place = _moved(at, spacing / 2, (start, end), off, unit) if why else at
        if place is None:
            left_out.append(f"{wanted}: {why}")
        elif place not in found:
            moved = NEAR_END if last else f"moved from {wanted}: {why}"
            found[place] = _station(place, unit, moved if why else "")
    if not found:
        raise _mend("nowhere along it can be measured so", "list the stations", _EVERY_FIELD)
    return Stations(tuple(found[at] for at in sorted(found)), tuple(left_out))


def stations_listed(whip: Whip, after_layer: int | None, typed: str, shown: ShownUnits) -> Stations:
    """The places of a list, ``0, 6, 12 1/2`` or ``0; 150; 300 mm``; one in an awkward place is marked.

    Raises
    ------
    InputError
        Where a place cannot be read, or lies past the point.
    """
    off = awkward(whip, after_layer)
    found: dict[float, Station] = {}
    for text, at in _typed_places(typed, shown.lengths):
        if whip.point_mm is not None and at > whip.point_mm:
            raise _mend(f"{text} lies past the point", f"it is at {shown.length(whip.point_mm)}", _LIST_FIELD)
        found.setdefault(at, Station(at, text, off.near(at)))
    if not found:
        raise _mend("no station is listed", "write them like 0, 6, 12, 18", _LIST_FIELD)
    if len(found) > MOST:
        raise _mend(f"{len(found)} stations are listed", f"{MOST} at most", _LIST_FIELD)
    return Stations(tuple(found[at] for at in sorted(found)))


def run_of(whip: Whip, after_layer: int | None) -> tuple[float, float | None]:
    """From where to where the outermost layer lies on the thong, mm; None where its end is not known."""
    start, end = 0.0, whip.point_mm
    if whip.datum == "butt":
        start = whip.handle_length_mm or 0.0
    if after_layer is None or after_layer > len(whip.layers):
        return start, end
    layer = whip.layers[after_layer - 1]
    steps = layer.schedule.steps if layer.schedule is not None else ()
    if steps:
        start = max(start, steps[0].place.mid_mm)
        if steps[-1].total.high == 0:
            return start, steps[-1].place.mid_mm
        return start, end
    return max(start, layer.from_mm or 0.0), end if layer.to_mm is None else layer.to_mm


def _changes(whip: Whip, after_layer: int | None) -> Iterator[tuple[float, float, str]]:
    start, end = run_of(whip, None)
    for layer in whip.layers[:after_layer]:
        for place in (layer.from_mm, layer.to_mm):
            # Where the thong itself begins and ends nothing changes along it.
            if place is not None and start < place < (float("inf") if end is None else end):
                yield place, place, f"an end of the {layer.role}"
        for before, step in pairwise(layer.schedule.steps if layer.schedule is not None else ()):
            if step.place.kind != "not noted" and step.counts != before.counts:
                what = "the end" if step.total.high == 0 else "a drop"
                if step.total.low > before.total.high:
                    what = "added strands"
                yield step.place.low_mm, step.place.high_mm, f"{what} in the {layer.role}"


def _evenly(start: float, end: float, spacing: float, unit: LengthUnit) -> Iterator[tuple[float, bool]]:
    """Counted from the datum, as a tape lies; then (True) the end, where half a distance and more is left."""
    last = start
    for k in range(ceil(start / spacing - 1e-9), floor(end / spacing + 1e-9) + 1):
        last = k * spacing
        yield last, False
    if end - last >= spacing / 2:
        grid = float(grid_of(unit))
        yield floor(end / grid + 1e-9) * grid, True


def _moved(
    at_mm: float, within_mm: float, run: tuple[float, float], off: Awkward, unit: LengthUnit
) -> float | None:
    """The nearest place on the tape's marks that can be measured, not further away than ``within_mm``."""
    grid = float(grid_of(unit))
    marks = int(within_mm // grid)
    near = [float(on_tape(at_mm, unit)) + k * grid for k in range(-marks, marks + 1)]
    good = [at for at in near if run[0] <= at <= run[1] and abs(at - at_mm) <= within_mm and not off.near(at)]
    return min(good, key=lambda at: (abs(at - at_mm), at), default=None)


def _typed_places(typed: str, unit: LengthUnit) -> Iterator[tuple[str, float]]:
    for piece in filter(None, (piece.strip() for piece in _LISTED.split(typed))):
        try:
            yield _length(piece, unit, _LIST_FIELD)
        except InputError:
            words = piece.split()
            if len(words) < 2:
                raise
            yield from (_length(word, unit, _LIST_FIELD) for word in words)


def _length(typed: str, unit: LengthUnit, where: str) -> tuple[str, float]:
    try:
        return with_unit(typed, unit, LENGTH)
    except UnitError as error:
        raise InputError(error.finding.at(where)) from error


def _tape(text: str, preferred: LengthUnit) -> LengthUnit:
    """The tape on which places are said: that of the unit which was typed."""
    found = scan_measure(plain_marks(text).strip(), 0, MM_PER)
    units: Mapping[str | None, LengthUnit] = {"in": "in", "ft": "in", "mm": "mm", "cm": "cm"}
    return units.get(found.unit if found else None, "in" if preferred in ("in", "ft") else "mm")


def _said(at_mm: float, unit: LengthUnit) -> str:
    """A place as it is found on a tape, or in decimals where it lies between its marks."""
    placed = on_tape(at_mm, unit)
    on_mark = abs(float(placed) - at_mm) < BETWEEN_MARKS_MM
    return f"{tape_text(placed, unit) if on_mark else f'{float(at_mm / MM_PER[unit]):.6g}'} {unit}"


def _station(at_mm: float, unit: LengthUnit, note: str) -> Station:
    """A station whose text is read back as exactly its place."""
    text = _said(at_mm, unit)
    return Station(parse_length(text), text, note)


def _mend(text: str, remedy: str, where: str) -> InputError:
    return InputError(Finding("stations", text, remedy, where))
