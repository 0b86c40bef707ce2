"""Which table a sheet is, where its header stands, and what each of its columns says."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Final

from plaitlog.models.errors import Finding, nearest_or
from plaitlog.models.units import DIAMETER, GIRTH
from plaitlog.models.units_scan import G_PER, MM_PER
from plaitlog.service.usecases.spreadsheets.catalogue import (
    RATINGS,
    TABLES,
    WHIPS,
    columns_of,
    table_named,
)
from plaitlog.service.usecases.spreadsheets.columns import Column, Table
from plaitlog.service.usecases.spreadsheets.headers import (
    Header,
    StationHeader,
    bare,
    loose,
    read_header,
    station_header,
)
from plaitlog.service.usecases.spreadsheets.numbers import Mark

WHY: Final = "Why rejected"
"""Header of the column that says why a row was rejected; an import passes it over."""
PASSED_OVER: Final = "-"
_READING: Final = Column("reading", "reading", "reading", quantity=DIAMETER, text_key="reading")
_TAPED: Final = replace(_READING, quantity=GIRTH)


@dataclass(frozen=True, slots=True)
class Choices:
    """What the maker says about a file: by ``--map``, ``--units``, ``--table``, or as remembered.

    ``headers``: header to key, or "-" to pass a column over; ``units``: header, key or kind of size to unit;
    ``decimal``: what a comma in a number is.
    """

    headers: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    table: str | None = None
    decimal: Mark | None = None


@dataclass(frozen=True, slots=True)
class Mapped:
    """One column of a sheet: its place there (from 0), its header, and what it says.

    ``unit`` is that of a number without one; ``station`` that of a notebook's reading column.
    """

    index: int
    header: str
    column: Column
    unit: str | None = None
    station: StationHeader | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """What a sheet holds; ``passed_over`` are the headers of columns that are not read.

    ``unknown`` are columns (by their place) that no name tells, with what to say where they hold anything.
    """

    sheet: str
    table: Table
    line: int
    headers: tuple[str, ...]
    columns: tuple[Mapped, ...]
    passed_over: tuple[str, ...] = ()
    unknown: Mapping[int, Finding] = field(default_factory=dict)


@dataclass(slots=True)
class _Match:
    table: Table
    columns: list[Mapped] = field(default_factory=list)
    passed_over: list[str] = field(default_factory=list)
    unknown: dict[int, str] = field(default_factory=dict)
    wrong: list[Finding] = field(default_factory=list)

    @property
    def keys(self) -> set[str]:
        return {each.column.key for each in self.columns}

    @property
    def complete(self) -> bool:
        return all(self.keys & required for required in self.table.required)

    @property
    def fits(self) -> bool:
        return self.complete and not self.unknown and not self.wrong


def header_texts(cells: Sequence[object]) -> tuple[str, ...]:
    """The cells of a header row as text; whole numbers without a decimal point."""
    return tuple(
        ""
        if cell is None
        else f"{cell:g}"
        if isinstance(cell, float) and cell.is_integer()
        else " ".join(str(cell).split())
        for cell in cells
    )


def could_be_header(texts: Sequence[str], choices: Choices) -> bool:
    """Whether these cells can be the header of a table: most of them are known names."""
    filled = [text for text in texts if text]
    if not filled:
        return False
    tables = [table_named(choices.table)] if choices.table else TABLES
    for table in tables:
        match = None if table is None else _match(texts, table, choices)
        if match is not None and match.complete:
            known = len(match.columns) + len(match.passed_over)
            if known >= min(2, len(filled)) and known * 2 >= len(filled):
                return True
    return False


def lay_out(
    sheet: str, hint: str, line: int, texts: tuple[str, ...], choices: Choices
) -> Layout | list[Finding]:
    """The layout of a sheet whose header is ``texts``, or all that stands in the way.

    ``hint``: name of the sheet or the file, which tells the table where the header fits several.
    """
    table = _told_table(texts, hint, choices)
    if isinstance(table, Finding):
        return [table]
    match = _match(texts, table, choices)
    wrong = list(match.wrong)
    wrong += _twice(match)
    unknown = {index: _unknown(text, table) for index, text in match.unknown.items()}
    if (wrong or not match.complete) and unknown:
        return [*unknown.values(), *wrong]
    if not match.complete and not wrong:
        needed = next(required for required in table.required if not match.keys & required)
        title = " or ".join(
            column.title for column in table.columns if column.key in needed and column.way != "typed"
        )
        wrong.append(
            Finding(
                "column-missing",
                f"a table of {table.name} needs a column {title!r}",
                'name the column with --map "Header=key", or say --table for another kind of table',
            )
        )
    if wrong:
        return wrong
    columns = _same_station_unit([_with_unit(each, choices) for each in match.columns])
    if lacking := [each for each in columns if _lacks_station_unit(each)]:
        return [*unknown.values(), _station_unit_missing(lacking)]
    return Layout(sheet, table, line, texts, tuple(columns), tuple(match.passed_over), unknown)


def _told_table(texts: Sequence[str], hint: str, choices: Choices) -> Table | Finding:
    if choices.table is not None:
        named = table_named(choices.table)
        return named if named is not None else _no_table(choices.table)
    matches = [_match(texts, table, choices) for table in TABLES]
    fitting = [match for match in matches if match.fits]
    if len(fitting) > 1 and {match.table.name for match in fitting} >= {WHIPS.name, RATINGS.name}:
        whips = next(match for match in fitting if match.table is WHIPS)
        if all(key in {"label", "notes"} or key.startswith("ratings.") for key in whips.keys):
            fitting.remove(whips)
    if len(fitting) == 1:
        return fitting[0].table
    if (named := table_named(hint)) is not None:
        return named
    if fitting:
        names = " or ".join(f"--table {match.table.name!r}" for match in fitting)
        return Finding(
            "table-ambiguous", "the header fits more than one kind of table", f"say which it is: {names}"
        )
    known = [match for match in matches if match.complete]
    if known:
        best = min(known, key=lambda match: len(match.unknown) + len(match.wrong))
        return best.table
    nearest = max(matches, key=lambda match: len(match.columns))
    if len(nearest.columns) > 1:
        return nearest.table
    return Finding(
        "no-table",
        f"the header ({', '.join(repr(text) for text in texts[:6] if text)}) is that of no table",
        "say --table whips, readings, layers, ratings, cords or stock, and --map what it does not name so",
    )


def _no_table(name: str) -> Finding:
    names = [table.name for table in TABLES]
    return Finding(
        "table-unknown",
        f"{name!r} is no kind of table",
        nearest_or(name, names, f"known are {', '.join(names)}"),
        "--table",
    )


def _match(texts: Sequence[str], table: Table, choices: Choices) -> _Match:
    match = _Match(table)
    chosen = {bare(header): key for header, key in choices.headers.items()}
    for index, text in enumerate(texts):
        if not text:
            continue
        if bare(text) == bare(WHY):
            match.passed_over.append(text)
            continue
        header = read_header(text)
        key = choices.headers.get(text) or chosen.get(header.full)
        if key == PASSED_OVER:
            match.passed_over.append(text)
        elif key is not None:
            _take_chosen(match, index, header, key)
        else:
            _take_known(match, index, header)
    return match


def _take_chosen(match: _Match, index: int, header: Header, key: str) -> None:
    column = _names_of(match.table).get(bare(key))
    station = station_header(key) if column is None and match.table is WHIPS else None
    if column is not None:
        unit = header.unit if column.quantity is None or header.unit in column.quantity.units else None
        match.columns.append(Mapped(index, header.text, column, unit))
    elif station is not None:
        match.columns.append(_reading_column(index, header.text, *station))
    else:
        keys = [column.key for column in columns_of(match.table)]
        match.wrong.append(
            Finding(
                "key-unknown",
                f"{key!r} is nothing that a table of {match.table.name} holds",
                nearest_or(key, keys, f"known are {', '.join(keys)}"),
                f"--map {header.text}",
            )
        )


def _take_known(match: _Match, index: int, header: Header) -> None:
    names = _names_of(match.table)
    column = names.get(header.full)
    if column is not None:
        unit = header.unit if column.way in {"size", "strands"} else None
        match.columns.append(Mapped(index, header.text, column, unit))
        return
    column = names.get(header.name) or _loose_names(match.table.name).get(header.loose)
    if column is not None and header.unit is None:
        match.columns.append(Mapped(index, header.text, column))
        return
    if column is not None:
        if column.quantity is not None and header.unit not in column.quantity.units:
            units = " or ".join(column.quantity.units)
            match.wrong.append(
                Finding(
                    "unit-wrong",
                    f"a {column.quantity.name} cannot be meant in {header.unit}",
                    f"write {units}, or say what the column is with --map",
                    f"column {header.text!r}",
                )
            )
            return
        takes_unit = column.way in {"size", "strands"} or (
            header.unit == "m" and column.key.endswith("metres")
        )
        if takes_unit:
            match.columns.append(Mapped(index, header.text, column, header.unit))
            return
    station = station_header(header.text) if match.table is WHIPS else None
    if station is not None:
        match.columns.append(_reading_column(index, header.text, *station))
    else:
        match.unknown[index] = header.text


def _reading_column(index: int, header: str, station: StationHeader, unit: str | None) -> Mapped:
    return Mapped(index, header, _TAPED if station.girth else _READING, unit, station)


@cache
def _names_by_table(name: str) -> dict[str, Column]:
    table = next(table for table in TABLES if table.name == name)
    found: dict[str, Column] = {}
    columns = columns_of(table)
    for column in columns:
        found.setdefault(bare(column.title), column)
    for column in columns:
        if column.way != "typed":
            for each in (*column.names, column.key.replace(".", " ")):
                found.setdefault(bare(each), column)
    return found


@cache
def _loose_names(name: str) -> dict[str, Column]:
    table = next(table for table in TABLES if table.name == name)
    found: dict[str, Column] = {}
    for column in columns_of(table):
        for each in (column.title, *column.names):
            if len(each.split()) > 1 and column.way != "typed":
                found.setdefault(loose(each), column)
    return found


def _names_of(table: Table) -> dict[str, Column]:
    return _names_by_table(table.name)


def _unknown(text: str, table: Table) -> Finding:
    names: dict[str, str] = {}
    for column in columns_of(table):
        names.setdefault(column.title.lower(), column.key)
        for name in column.names if column.way != "typed" else ():
            names.setdefault(name.lower(), column.key)
    from difflib import get_close_matches

    near = get_close_matches(text.lower(), list(names), n=1, cutoff=0.5)
    key = names[near[0]] if near else "KEY"
    known = "" if near else f" (keys are {', '.join(dict.fromkeys(names.values()))})"
    return Finding(
        "column-unknown",
        f"is no column of a table of {table.name}",
        f'say --map "{text}={key}"{known}, or --map "{text}=-" to pass it over',
        f"column {text!r}",
    )


def _twice(match: _Match) -> list[Finding]:
    seen: dict[str, str] = {}
    found = []
    for each in match.columns:
        if each.station is not None:
            continue
        earlier = seen.setdefault(each.column.key, each.header)
        if earlier is not each.header:
            found.append(
                Finding(
                    "column-twice",
                    f"columns {earlier!r} and {each.header!r} both say {each.column.key}",
                    f'pass one over: --map "{each.header}=-"',
                )
            )
    return found


def declared(units: Mapping[str, str], names: Sequence[str]) -> str | None:
    """The unit that is declared under the first of these names."""
    plain = {bare(name): unit for name, unit in units.items()}
    return next((plain[bare(name)] for name in names if bare(name) in plain), None)


def _with_unit(each: Mapped, choices: Choices) -> Mapped:
    column = each.column
    if column.quantity is not None:
        same = {"mass": "weight"}.get(column.quantity.name, column.quantity.name)
        own = ["reading"] if each.station is not None else [column.key, column.text_key]
        if column.key == "at_mm":
            own.append("station")
        unit = declared(choices.units, [each.header, *own, column.quantity.name, same])
        if unit is not None and each.unit is None and unit in column.quantity.units:
            each = replace(each, unit=unit)
    if column.way == "strands" and each.unit is None:
        each = replace(each, unit=declared(choices.units, [each.header, column.key, "strands", "station"]))
    station = each.station
    if station is not None and station.place is None and station.unit is None:
        unit = declared(choices.units, ["station", "stations"])
        each = replace(each, station=replace(station, unit=unit))
    return each


def _same_station_unit(columns: list[Mapped]) -> list[Mapped]:
    """Stations without a unit take that of the others where these have one and the same: D0 in, D12, D24."""
    units = {each.station.unit for each in columns if each.station is not None and each.station.unit}
    if len(units) > 1:
        return columns
    unit = next(iter(units), None) or _told_station_unit(columns)
    return [
        replace(each, station=replace(each.station, unit=unit))
        if each.station is not None and _lacks_station_unit(each)
        else each
        for each in columns
    ]


def _told_station_unit(columns: list[Mapped]) -> str | None:
    """mm, where the last station in any other unit would lie beyond every whip."""
    from plaitlog.models.units import LENGTH

    stations = [_station_number(each) for each in columns if _lacks_station_unit(each)]
    last = max(stations, default=0.0)
    usual = [
        unit
        for unit, factor in LENGTH.units.items()
        if LENGTH.usual[0] <= last * float(factor) <= LENGTH.usual[1]
    ]
    return usual[0] if usual == ["mm"] else None


def _station_number(each: Mapped) -> float:
    from plaitlog.models.units_scan import scan_number

    assert each.station is not None
    number = scan_number(each.station.station)
    return 0.0 if number is None else float(number.value)


def _lacks_station_unit(each: Mapped) -> bool:
    station = each.station
    return station is not None and station.place is None and station.unit is None


def _station_unit_missing(lacking: list[Mapped]) -> Finding:
    headers = ", ".join(repr(each.header) for each in lacking[:6])
    return Finding(
        "unit-missing",
        f"no unit says where {headers} {'lies' if len(lacking) == 1 else 'lie'}",
        'say --units "station=in" (or cm, mm), or write it into one of the headers: "D12 in"',
    )


def known_unit(unit: str) -> bool:
    return unit in MM_PER or unit in G_PER or unit in {"g/m", "oz/yd", "ft/lb", "g/cm3", "kg/m3"}
