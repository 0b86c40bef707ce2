"""What a column of a sheet was found to say, and what the maker said about it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from plaitlog.models.errors import Finding
from plaitlog.service.usecases.spreadsheets.columns import Column, Table
from plaitlog.service.usecases.spreadsheets.headers import StationHeader
from plaitlog.service.usecases.spreadsheets.numbers import Mark

WHY: Final = "Why rejected"
"""Header of the column that says why a row was rejected; an import passes it over."""
PASSED_OVER: Final = "-"


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
