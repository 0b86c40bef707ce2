"""One pass over the cells of a sheet: the block they span, and the cells that hold no value of their own."""

from typing import Final

from plaitlog.models.errors import TableError
from plaitlog.service.usecases.spreadsheets.xlsx_guard import damaged, too_large
from plaitlog.service.usecases.spreadsheets.xlsx_scan import (
    CELLS,
    MERGED,
    ODD_CELLS,
    Part,
    ScannedSheet,
    Totals,
    add_characters,
    address,
)

_VALUES: Final = ("v", "t", "is")


class SheetPart(Part):
    """The part of one sheet; what it notes is in ``found``."""

    def __init__(self, totals: Totals) -> None:
        super().__init__(totals)
        self.found = ScannedSheet()
        self._row = self._column = 0
        self._kind = ""
        self._formula = self._stored = False
        self._within = ""
        self._text = ""
        self._size = 0
        self._first_row = self._first_column = self._last_row = self._last_column = 0
        self._counted = 0
        self._last = (0, 0)

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "c":
            self._start_cell(attributes)
        elif name in _VALUES:
            self._within = name
            self._stored = True
        elif name == "f":
            self._formula = True
        elif name == "row":
            self._start_row(attributes.get("r"))
        elif name == "mergeCell":
            self.found.merged.append(attributes.get("ref", "")[:40])
            if len(self.found.merged) > MERGED:
                raise TableError(too_large(f"a sheet has more than {MERGED} merged cells"))

    def text(self, text: str) -> None:
        if self._within:
            self._size += len(text)
            if len(self._text) < 32:
                self._text += text

    def end(self, name: str) -> None:
        if name == "c":
            self._end_cell()
        elif name in _VALUES:
            self._within = ""

    def _start_row(self, stated: str | None) -> None:
        self._row = int(stated) if stated is not None and stated.isdecimal() else self._row + 1
        self._column = 0

    def _start_cell(self, attributes: dict[str, str]) -> None:
        stated = attributes.get("r")
        place = address(stated) if stated is not None else (max(self._row, 1), self._column + 1)
        if place is None:
            raise TableError(damaged(f"a cell has the address {stated!r}"))
        if place <= self._last:
            raise TableError(damaged(f"cell {stated!r} stands after one that follows it"))
        self._row, self._column = self._last = place
        self._kind = attributes.get("t", "n")
        self._formula = self._stored = False
        self._text, self._size = "", 0

    def _end_cell(self) -> None:
        if self._kind == "e":
            self._note_odd(self._text.strip() or "#ERROR")
        elif self._formula and not (self._text.strip() or (self._stored and self._kind == "str")):
            self._note_odd("")
        if not self._text:
            return
        if self._kind == "s":
            number = self._text.strip()
            if not number.isdecimal() or int(number) >= len(self.totals.shared):
                raise TableError(damaged(f"a cell refers to a text that is not there ({number!r})"))
            add_characters(self.totals, self.totals.shared[int(number)])
        else:
            add_characters(self.totals, self._size)
        self._stretch()

    def _note_odd(self, what: str) -> None:
        self.found.odd[self._row].append((self._column, what))
        self.totals.odd_cells += 1
        if self.totals.odd_cells > ODD_CELLS:
            raise TableError(
                too_large(f"more than {ODD_CELLS} cells hold errors or formulas without a value")
            )

    def _stretch(self) -> None:
        if not self._last_row:
            self._first_row, self._first_column = self._row, self._column
        self._first_row = min(self._first_row, self._row)
        self._first_column = min(self._first_column, self._column)
        self._last_row = max(self._last_row, self._row)
        self._last_column = max(self._last_column, self._column)
        block = (self._last_row - self._first_row + 1) * (self._last_column - self._first_column + 1)
        self.totals.cells += block - self._counted
        self._counted = block
        if self.totals.cells > CELLS:
            raise TableError(too_large(f"the sheets span more than {CELLS} cells"))
