"""One pass over the parts of an xlsx file in constant memory, to see what loading them would bring.

The library that reads the cells holds a whole sheet at once, as a block from its first to its last cell, and
gives an empty cell where there is an error value or a formula without a stored value. So the pass counts what
it would hold, and notes those cells.
"""

import re
from array import array
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Final
from xml.parsers import expat

from plaitlog.models.errors import TableError
from plaitlog.service.usecases.spreadsheets.xlsx_guard import damaged, external, too_large

CELLS: Final = 500_000
"""Cells of all sheets, empty ones within a sheet's block included.

Measured with python-calamine 0.9.1, memory above that of the bare library for 1,000,000 cells: numbers 70 MB,
short texts in the cells themselves 100 MB, short texts in the table of shared ones 123 MB. So 500,000 cells
take up to 62 MB, which leaves an import room under 200 MB.
"""
TEXT_CHARACTERS: Final = 10_000_000
"""Of all texts, each counted where it is defined and wherever a cell refers to it; up to 4 bytes each."""
ODD_CELLS: Final = 20_000
MERGED: Final = 10_000
SHEETS: Final = 200
TOKEN: Final = 1_000_000
"""Longest tag, comment or run of text within a part."""

_ADDRESS: Final = re.compile(r"\$?([A-Za-z]{1,3})\$?([0-9]{1,7})")
_LAST_ROW: Final = 1_048_576
_LAST_COLUMN: Final = 16_384


@dataclass(slots=True)
class Totals:
    """What all parts of a file would hold in memory, as far as they have been seen."""

    cells: int = 0
    characters: int = 0
    odd_cells: int = 0
    shared: "array[int]" = field(default_factory=lambda: array("I"))  # characters of each shared text
    sheets: list[tuple[str, str]] = field(default_factory=list)  # name and relationship of each sheet
    targets: dict[str, str] = field(default_factory=dict)  # where each relationship of the workbook leads


@dataclass(slots=True)
class ScannedSheet:
    """What the cells of one sheet do not tell: rows and columns count from 1.

    ``odd``: by row, the columns with an error value, and with ``""`` for a formula without a value.
    """

    odd: dict[int, list[tuple[int, str]]] = field(default_factory=lambda: defaultdict(list))
    merged: list[str] = field(default_factory=list)


class Part:
    """A parser of one part that is fed in pieces; what it sees goes to the handlers of a subclass."""

    def __init__(self, totals: Totals) -> None:
        self.totals = totals
        self._fed = 0
        self._run = 0
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._characters
        self._parser.StartDoctypeDeclHandler = self._doctype

    def feed(self, piece: bytes, last: bool = False) -> None:
        """The next piece of the part.

        Raises
        ------
        TableError
            Where it is no XML, or holds more than the limits allow.
        """
        self._fed += len(piece)
        try:
            self._parser.Parse(piece, last)
        except expat.ExpatError as error:
            raise TableError(damaged(str(error))) from error
        if self._fed - self._parser.CurrentByteIndex > TOKEN and not last:
            raise TableError(too_large("a tag in the file is longer than any cell"))

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element begins."""

    def end(self, name: str) -> None:
        """An element ends."""

    def text(self, text: str) -> None:
        """A piece of text."""

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._run = 0
        self.start(name.rpartition(" ")[2], attributes)

    def _end(self, name: str) -> None:
        self._run = 0
        self.end(name.rpartition(" ")[2])

    def _characters(self, text: str) -> None:
        self._run += len(text)
        if self._run > TOKEN:
            raise TableError(too_large("a text in the file is longer than a cell can hold"))
        self.text(text)

    def _doctype(self, *declaration: object) -> None:
        raise TableError(damaged("it declares a document type, as no spreadsheet program does"))


class Relationships(Part):
    """A part that lists where others lead."""

    def __init__(self, totals: Totals, of_workbook: bool) -> None:
        super().__init__(totals)
        self._of_workbook = of_workbook

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name != "Relationship":
            return
        target, kind = attributes.get("Target", ""), attributes.get("Type", "")
        if attributes.get("TargetMode", "").lower() == "external" and not kind.endswith("/hyperlink"):
            raise TableError(external(f"it refers to {target[:60]!r}"))
        if self._of_workbook:
            self.totals.targets[attributes.get("Id", "")] = target


class WorkbookPart(Part):
    """The part that names the sheets."""

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name != "sheet":
            return
        relationship = next((value for key, value in attributes.items() if key.endswith(" id")), "")
        self.totals.sheets.append((attributes.get("name", ""), relationship))
        if len(self.totals.sheets) > SHEETS:
            raise TableError(too_large(f"the file has more than {SHEETS} sheets"))


class SharedTexts(Part):
    """The table of texts that cells refer to by number."""

    def __init__(self, totals: Totals) -> None:
        super().__init__(totals)
        self._size = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "si":
            self._size = 0

    def text(self, text: str) -> None:
        self._size += len(text)

    def end(self, name: str) -> None:
        if name != "si":
            return
        self.totals.shared.append(self._size)
        add_characters(self.totals, self._size)
        if len(self.totals.shared) > CELLS:
            raise TableError(too_large(f"the file has more than {CELLS} texts"))


def add_characters(totals: Totals, size: int) -> None:
    """Count the characters of a text."""
    totals.characters += size
    if totals.characters > TEXT_CHARACTERS:
        raise TableError(too_large(f"the texts of the file have more than {TEXT_CHARACTERS} characters"))


def address(text: str) -> tuple[int, int] | None:
    """Row and column, from 1, of a cell such as ``C7``."""
    found = _ADDRESS.fullmatch(text)
    if found is None:
        return None
    column = 0
    for letter in found.group(1).upper():
        column = 26 * column + ord(letter) - 64
    row = int(found.group(2))
    return (row, column) if 1 <= row <= _LAST_ROW and column <= _LAST_COLUMN else None
