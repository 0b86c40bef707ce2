"""The wide table a notebook has, as an export: one row a whip, one column a station.

It holds what is noted of the whip as a whole and its finished diameters, one or two at a station. Layers,
readings of inner layers, girths and further readings stand in the tables of their own.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy.orm import Session

from plaitlog.models.errors import Finding, InputError
from plaitlog.models.whip import Reading, Whip
from plaitlog.service.usecases.spreadsheets.catalogue import READINGS_OF_A_ROW, WHIPS
from plaitlog.service.usecases.spreadsheets.cells import row
from plaitlog.service.usecases.spreadsheets.columns import Table
from plaitlog.service.usecases.spreadsheets.table import Cell
from plaitlog.service.usecases.spreadsheets.writing import number_text
from plaitlog.service.usecases.to_records import reading_shape, whip_record
from plaitlog.service.usecases.workshop import whips

STATIONS_AT_MOST: Final = 400
"""A table with more columns is no notebook, and an import would not take it."""
AT_ONE_STATION: Final = 2
TITLE_AT_MOST: Final = 40
"""Characters of a header; no station that was ever measured needs as many."""

Station = float | str
"""mm from the datum, or a named place."""
_PLACES: Final = {"thick": "thick (mm)", "mid": "mid (mm)", "point": "point (mm)"}
_OF_THE_WHIP: Final = Table(
    WHIPS.name,
    WHIPS.kind,
    tuple(column for column in WHIPS.columns if column.key != "readings_text") + READINGS_OF_A_ROW,
    WHIPS.subject,
    WHIPS.required,
)


@dataclass(frozen=True, slots=True)
class Notebook:
    """The stations that have a column, and how many readings have no place in the table."""

    stations: tuple[Station, ...]
    left_out: int


def notebook_of(session: Session) -> Notebook:
    """What the wide table of a workshop holds.

    Raises
    ------
    InputError
        The whips were measured at more stations than a table can have columns.
    """
    stations: set[Station] = set()
    left_out = 0
    for whip in whips(session):
        held = _held(whip)
        stations.update(held)
        left_out += len(whip.readings) - sum(map(len, held.values()))
    if len(stations) > STATIONS_AT_MOST:
        text = f"the whips are measured at {len(stations)} stations, too many for columns"
        raise InputError(Finding("too-many-stations", text, "use the table of readings", "--table"))
    named = [place for place in _PLACES if place in stations]
    places = sorted(station for station in stations if not isinstance(station, str))
    return Notebook((*places, *named), left_out)


def notebook_rows(session: Session, notebook: Notebook) -> Iterator[Sequence[Cell]]:
    """The rows of the table, its header first."""
    titles = [column.title for column in _OF_THE_WHIP.columns]
    yield [*titles, *map(_title, notebook.stations)]
    for whip in whips(session):
        held = _held(whip)
        shared = next((reading_shape(reading) for found in held.values() for reading in found), {})
        record = {**whip_record(whip), "reading": shared}
        yield [*row(_OF_THE_WHIP, record), *(_cell(held.get(station, ())) for station in notebook.stations)]


def _held(whip: Whip) -> dict[Station, list[Reading]]:
    """The readings that a row has room for: of the finished whip, all in one condition and on one day."""
    finished = [
        reading
        for reading in whip.readings
        if reading.diameter_mm is not None and reading.after_layer is None and reading.notes is None
    ]
    sessions = Counter((reading.condition, reading.on) for reading in finished)
    of_the_row = max(sessions, key=lambda each: sessions[each], default=None)
    held: dict[Station, list[Reading]] = {}
    for reading in finished:
        station = reading.at_mm if reading.place is None else reading.place
        if station is None or len(_title(station)) > TITLE_AT_MOST:
            continue
        if (reading.condition, reading.on) != of_the_row:
            continue
        found = held.setdefault(station, [])
        if len(found) < AT_ONE_STATION:
            found.append(reading)
    return held


def _title(station: Station) -> str:
    return _PLACES[station] if isinstance(station, str) else f"D {number_text(station)} mm (mm)"


def _cell(readings: Sequence[Reading]) -> Cell:
    if len(readings) == 1 and not readings[0].doubtful:
        return readings[0].diameter_mm
    texts = [f"{number_text(x.diameter_mm or 0.0)}{'?' if x.doubtful else ''}" for x in readings]
    return "/".join(texts) or None
