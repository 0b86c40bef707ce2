"""The sheets of a file, found out and set aside: header, table, rows, decimal mark, units."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import PurePath
from typing import Any, Final

from plaitlog.models.errors import Finding, ImportRefusedError, InputError, TableError
from plaitlog.service.usecases.json_lines import unstorable
from plaitlog.service.usecases.spreadsheets.catalogue import RATINGS, READINGS, WHIPS
from plaitlog.service.usecases.spreadsheets.headed import Header, row_refusal
from plaitlog.service.usecases.spreadsheets.layout import could_be_header, header_texts, lay_out
from plaitlog.service.usecases.spreadsheets.mapped import Choices, Layout, Mapped
from plaitlog.service.usecases.spreadsheets.notebook_readings import parts_of
from plaitlog.service.usecases.spreadsheets.numbers import DecimalEvidence, Mark
from plaitlog.service.usecases.spreadsheets.one_cell import NumberForm, as_text, is_blank
from plaitlog.service.usecases.spreadsheets.remembered import HeaderMemory, both
from plaitlog.service.usecases.spreadsheets.sizes import bare_number, usual_units
from plaitlog.service.usecases.spreadsheets.staging import Staging
from plaitlog.service.usecases.spreadsheets.table import DEFAULT_LIMITS, RawRow, Sheet, Workbook
from plaitlog.service.usecases.spreadsheets.texts import read_text

HEADER_WITHIN: Final = 30
"""A header stands among the first rows of a sheet; a notebook may have a title and blank rows above it."""
_REMARK_WORDS: Final = 4
_NUMBERS: Final = frozenset({"size", "number", "reading", "score", "feel"})
_AS_READ: Final = NumberForm()
NO_CHOICES: Final[Mapping[str, Choices]] = {}


@dataclass(slots=True)
class FoundSheet:
    """One sheet that holds a table; ``ranges``: least and greatest number without a unit, by column."""

    name: str
    layout: Layout
    choices: Choices
    ranges: dict[int, tuple[float, float]] = field(default_factory=dict)


@dataclass(slots=True)
class FoundTables:
    """The tables of one file, their rows set aside; ``said`` is how they were read."""

    sheets: list[FoundSheet]
    form: NumberForm
    said: list[str]


def find_tables(
    workbook: Workbook,
    name: str,
    said: Choices,
    memory: HeaderMemory,
    only: Sequence[str],
    staging: Staging,
    by_sheet: Mapping[str, Choices] = NO_CHOICES,
) -> FoundTables:
    """Find the tables of a file and set all their rows aside; ``by_sheet`` goes before ``said``.

    Raises
    ------
    TableError
        Where a sheet is no table, or columns are not known.
    """
    found = FoundTables([], _AS_READ, [])
    evidence = DecimalEvidence()
    refusals: list[Finding] = []
    names = [sheet.name for sheet in workbook.sheets]
    if missing := [each for each in only if each not in names]:
        raise TableError(
            Finding("sheet-unknown", f"there is no sheet {missing[0]!r}", f"the file has {', '.join(names)}")
        )
    for sheet in workbook.sheets:
        if only and sheet.name not in only:
            found.said.append(f"sheet {sheet.name!r} was passed over")
            continue
        opened = _open(sheet, name, by_sheet.get(sheet.name, said), memory, found)
        several = len(workbook.sheets) > 1
        if isinstance(opened, list):
            refusals += [_on_sheet(finding, sheet.name, several) for finding in opened]
        elif opened is not None and not refusals:
            one, rows, first = opened
            found.sheets.append(one)
            unknown = _stage(one, rows, first, len(found.sheets) - 1, staging, evidence, found)
            refusals += [_on_sheet(finding, sheet.name, several) for finding in unknown]
    if refusals:
        raise _refused(refusals)
    if not found.sheets:
        raise TableError(Finding("empty", "the file holds no table", "save the spreadsheet again"))
    _settle(found, workbook, evidence, said.decimal)
    return found


def _refused(refusals: list[Finding]) -> InputError:
    if len(refusals) == 1:
        return TableError(refusals[0])
    text = f"nothing was taken: {len(refusals)} things about the header are to be mended"
    return ImportRefusedError(
        Finding("header-refused", text, "mend what is listed and try again"), tuple(refusals)
    )


@dataclass(frozen=True, slots=True)
class FoundHeader:
    """The row that serves as the header of a sheet, what stands above it, and the rows below."""

    row: RawRow
    texts: tuple[str, ...]
    above: list[tuple[RawRow, tuple[str, ...]]]
    below: Iterator[RawRow]

    @property
    def first(self) -> bool:
        """Whether nothing stands above it."""
        return not self.above


def find_header(sheet: Sheet, said: Choices, memory: HeaderMemory) -> FoundHeader | None:
    """The first row that can be the header, else the fullest of the first rows; None for an empty sheet."""
    above: list[tuple[RawRow, tuple[str, ...]]] = []
    rows = iter(sheet.rows)
    for row in rows:
        if row.refusal is None and all(map(is_blank, row.cells)):
            continue
        texts = header_texts(row.cells)
        above.append((row, texts))
        if could_be_header(texts, both(said, memory.recall(texts))):
            break
        if len(above) >= HEADER_WITHIN:
            break
    if not above:
        return None
    row, texts = above[-1]
    if not could_be_header(texts, both(said, memory.recall(texts))):
        row, texts = max(above[:5], key=lambda each: sum(map(bool, each[1])))
    at = next(i for i, each in enumerate(above) if each[0] is row)
    return FoundHeader(row, texts, above[:at], chain([each for each, _ in above[at + 1 :]], rows))


def _open(
    sheet: Sheet, name: str, said: Choices, memory: HeaderMemory, found: FoundTables
) -> tuple[FoundSheet, Iterator[RawRow], bool] | list[Finding] | None:
    """The sheet with the rows below its header, and whether the header is its first row."""
    header = find_header(sheet, said, memory)
    if header is None:
        return None
    row = header.row
    if row.refusal is not None and (header.first or row.refusal.code == "column-twice"):
        return [row.refusal]
    choices = both(said, memory.recall(header.texts))
    layout = lay_out(sheet.name, sheet_hint(sheet, name), row.number, header.texts, choices)
    if isinstance(layout, list):
        return layout
    for passed, words in header.above:
        text = " ".join(word for word in words if word)
        found.said.append(f"{_place(sheet.name, passed.number)} above the header was passed over: {text!r}")
    return FoundSheet(sheet.name, layout, choices), header.below, header.first


def sheet_hint(sheet: Sheet, name: str) -> str:
    """What tells the table where the header fits several: name of the sheet, else of the file."""
    return sheet.name or PurePath(name).stem


def _place(sheet: str, line: int) -> str:
    return f"row {line} of sheet {sheet!r}" if sheet else f"line {line}"


def _on_sheet(finding: Finding, name: str, several: bool) -> Finding:
    if not name:
        return finding
    found = finding.at(f"sheet {name!r}")
    if several:
        remedy = f"{finding.remedy}; or read other sheets only, with --sheet NAME"
        found = replace(found, remedy=remedy)
    return found


def _stage(
    sheet: FoundSheet,
    rows: Iterator[RawRow],
    first: bool,
    number: int,
    staging: Staging,
    evidence: DecimalEvidence,
    found: FoundTables,
) -> list[Finding]:
    """Set the rows of a sheet aside; gives what is wrong with columns that are not known and not empty."""
    layout = sheet.layout
    header = Header(layout.headers)
    subject = next(each for each in layout.columns if each.column.key == layout.table.subject)
    empty = set(layout.unknown)
    for row in rows:
        if row.refusal is None and all(map(is_blank, row.cells)):
            continue
        if empty:
            empty -= {i for i in empty if i < len(row.cells) and not is_blank(row.cells[i])}
        refusal = row.refusal
        if row.corrected or (refusal is not None and not first):
            # What keeps a row from lying under a title need not keep it from lying under the header.
            beside = row_refusal(row.cells, header, DEFAULT_LIMITS)
            if beside is not None:
                refusal = beside[1].at(header.place(beside[0]))
            elif refusal is not None and refusal.code in ("too-many-cells", "no-column-name"):
                refusal = None
        if refusal is None and _is_remark(row.cells, layout):
            text = next(as_text(cell).strip() for cell in row.cells if not is_blank(cell))
            found.said.append(f"{_place(sheet.name, row.number)} was passed over as a remark: {text!r}")
            continue
        refusal = refusal or unstorable([cell for cell in row.cells if isinstance(cell, str)])
        about = _about(row.cells, subject)
        if refusal is None and not about:
            text = f"the row does not say whose it is: {layout.table.subject} is empty"
            refusal = Finding("missing", text, "write it into every row", f"column {subject.header!r}")
        key = staging.add(number, row.number, about or None, row.cells)
        if refusal is not None:
            staging.refuse(key, [refusal])
        else:
            _see(sheet, row.cells, evidence)
    found.said += [f"column {layout.headers[i]!r} is empty and was passed over" for i in sorted(empty)]
    return [finding for i, finding in layout.unknown.items() if i not in empty]


def _about(cells: Sequence[Any], subject: Mapped) -> str:
    cell = cells[subject.index] if subject.index < len(cells) else None
    if is_blank(cell):
        return ""
    text = read_text(as_text(cell)).strip()
    return "" if unstorable(text) is not None else text


def _is_remark(cells: Sequence[Any], layout: Layout) -> bool:
    """A sentence that stands alone in a row of a wider table, as below a notebook's; an export has none."""
    filled = [cell for cell in cells if not is_blank(cell)]
    return (
        len(filled) == 1
        and layout.table in (WHIPS, READINGS, RATINGS)
        and 3 <= len(layout.columns) < len(layout.table.columns)
        and isinstance(filled[0], str)
        and len(filled[0].split()) >= _REMARK_WORDS
        and not is_blank(cells[0])
    )


def _see(sheet: FoundSheet, cells: Sequence[Any], evidence: DecimalEvidence) -> None:
    """Gather what the numbers of a row tell about decimal mark and units."""
    for mapped in sheet.layout.columns:
        if mapped.column.way not in _NUMBERS or mapped.index >= len(cells):
            continue
        cell = cells[mapped.index]
        if cell is None or cell == "":
            continue
        for part in parts_of(cell, mapped):
            if isinstance(part, str):
                evidence.see(part)
            if mapped.unit is None and mapped.column.quantity is not None:
                value = bare_number(part, _AS_READ)
                if value is not None:
                    low, high = sheet.ranges.get(mapped.index, (value, value))
                    sheet.ranges[mapped.index] = (min(low, value), max(high, value))


def _settle(found: FoundTables, workbook: Workbook, evidence: DecimalEvidence, stated: Mark | None) -> None:
    """Decide on the decimal mark and on units that are not said, now that all rows were seen.

    What a file with the same headers was read with serves where this one does not tell: the rejected rows of
    a file hold less evidence than the whole of it.
    """
    hint = next((sheet.choices.decimal for sheet in found.sheets if sheet.choices.decimal), None)
    if hint is None and workbook.decimal_comma is not None:
        hint = "comma" if workbook.decimal_comma else "point"
    mark = stated or evidence.mark(hint)
    found.form = NumberForm(mark, workbook.delimiter == ";")
    if mark == "comma" and workbook.kind == "csv":
        found.said.append("numbers are read with a decimal comma")
    for sheet in found.sheets:
        if mark == "comma" and workbook.kind == "csv":
            sheet.choices = replace(sheet.choices, decimal=mark)
        told = _with_told_units(sheet, found)
        sheet.layout = replace(sheet.layout, columns=told)
    found.said[:0] = map(_summary, found.sheets)


def _with_told_units(sheet: FoundSheet, found: FoundTables) -> tuple[Mapped, ...]:
    """Columns with the unit that their numbers tell; all reading columns of a notebook have the same."""
    stations = [each.index for each in sheet.layout.columns if each.station is not None]
    pooled = [sheet.ranges[index] for index in stations if index in sheet.ranges]
    told: dict[tuple[str, tuple[float, float]], list[str]] = {}
    columns = []
    for mapped in sheet.layout.columns:
        span = sheet.ranges.get(mapped.index)
        if mapped.station is not None and pooled:
            span = (min(low for low, _ in pooled), max(high for _, high in pooled))
        if span is not None and mapped.column.quantity is not None and mapped.unit is None:
            units = usual_units(*span, mapped.column.quantity)
            if len(units) == 1:
                mapped = replace(mapped, unit=units[0])
                told.setdefault((units[0], span), []).append(mapped.header)
        columns.append(mapped)
    for (unit, span), headers in told.items():
        names = ", ".join(map(repr, headers))
        found.said.append(
            f"numbers without a unit under {names} were read in {unit}:"
            f" {span[0]:g} to {span[1]:g} are usual in no other"
        )
    return tuple(columns)


def _summary(sheet: FoundSheet) -> str:
    layout = sheet.layout
    what = f"sheet {sheet.name!r}" if sheet.name else "the file"
    columns = [_said(each) for each in layout.columns]
    passed = f"; passed over: {', '.join(map(repr, layout.passed_over))}" if layout.passed_over else ""
    return f"{what} was read as {layout.table.name}: {', '.join(columns)}{passed}"


def _said(mapped: Mapped) -> str:
    if mapped.station is not None:
        station = mapped.station
        place = station.place or station.station
        unit = f" {station.unit}" if station.unit and station.unit not in place else ""
        return f"{mapped.header!r} = reading at {place}{unit}" + (f" in {mapped.unit}" if mapped.unit else "")
    unit = f" in {mapped.unit}" if mapped.unit and mapped.column.way == "size" else ""
    return f"{mapped.header!r} = {mapped.column.key}{unit}"
