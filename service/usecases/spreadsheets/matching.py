"""Headers matched with the columns of a table: by name, by what the maker said, as stations of readings."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache
from typing import Final

from plaitlog.models.errors import Finding, nearest_or
from plaitlog.models.units import DIAMETER, GIRTH
from plaitlog.service.usecases.spreadsheets.catalogue import TABLES, WHIPS, columns_of
from plaitlog.service.usecases.spreadsheets.columns import Column, Table
from plaitlog.service.usecases.spreadsheets.headers import (
    Header,
    StationHeader,
    bare,
    loose,
    read_header,
    station_header,
)
from plaitlog.service.usecases.spreadsheets.mapped import PASSED_OVER, WHY, Choices, Mapped

_READING: Final = Column("reading", "reading", "reading", quantity=DIAMETER, text_key="reading")
_TAPED: Final = replace(_READING, quantity=GIRTH)


@dataclass(slots=True)
class Match:
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


def match_headers(texts: Sequence[str], table: Table, choices: Choices) -> Match:
    match = Match(table)
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


def _take_chosen(match: Match, index: int, header: Header, key: str) -> None:
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


def _take_known(match: Match, index: int, header: Header) -> None:
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


def keys_of(table: Table) -> set[str]:
    """What a column of a table can be chosen to say."""
    return {column.key for column in columns_of(table) if column.way != "typed"}


def titles_of(name: str) -> list[tuple[str, str]]:
    """The same with what each is called, in the order of the table."""
    table = next(table for table in TABLES if table.name == name)
    return [
        (column.key, column.title if column.quantity is None else column.names[0])
        for column in columns_of(table)
        if column.way != "typed"
    ]


def unknown_column(text: str, table: Table) -> Finding:
    names: dict[str, str] = {}
    for column in columns_of(table):
        names.setdefault(column.title.lower(), column.key)
        for name in column.names if column.way != "typed" else ():
            names.setdefault(name.lower(), column.key)
    near = get_close_matches(text.lower(), list(names), n=1, cutoff=0.5)
    key = names[near[0]] if near else "KEY"
    known = "" if near else f" (keys are {', '.join(dict.fromkeys(names.values()))})"
    return Finding(
        "column-unknown",
        f"is no column of a table of {table.name}",
        f'say --map "{text}={key}"{known}, or --map "{text}=-" to pass it over',
        f"column {text!r}",
    )


def twice(match: Match) -> list[Finding]:
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
