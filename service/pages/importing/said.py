"""What the form of an import says, as what is asked for: only where it differs from what the file tells."""

import re
from collections.abc import Mapping
from typing import Any, Final, cast

from plaitlog.models.errors import Finding, InputError
from plaitlog.service.pages.forms import Form
from plaitlog.service.staged_imports import PASTED, is_lines, memory, seen_of
from plaitlog.service.staged_uploads import Staged
from plaitlog.service.usecases.asked_imports import Asked
from plaitlog.service.usecases.spreadsheets.looking import NOT_KNOWN, READING, SeenSheet, look_at
from plaitlog.service.usecases.spreadsheets.mapped import PASSED_OVER, Choices
from plaitlog.service.usecases.spreadsheets.matching import keys_of
from plaitlog.service.usecases.spreadsheets.numbers import Mark

STATION_UNITS: Final = ("in", "ft", "mm", "cm")
NAMED_PLACES: Final = ("thick", "mid", "point")
_CELL: Final = re.compile(r"cell-([0-9]{1,3})-([0-9]{1,3})")
_LINE: Final = re.compile(r"[0-9]{1,9}")
ENCODINGS: Final = ("utf-8", "cp1252", "iso-8859-15", "cp850", "mac-roman", "utf-16")


def said_in(form: Form, kept: Staged, before: Asked) -> Asked:
    """What is asked for by the form, on top of rows that were put right before.

    Raises
    ------
    InputError
        A column is said to hold readings, and not where they were measured.
    """
    corrections = _corrections(form, before)
    if is_lines(kept):
        return Asked(corrections=corrections)
    encoding = form.text("encoding") if form.has("encoding") else before.encoding or ""
    encoding = encoding if encoding in ENCODINGS else ""
    decimal = form.text("decimal")
    by_sheet, left_out = _by_sheet(form, kept, before, encoding or None)
    return Asked(
        by_sheet,
        left_out,
        cast("Mark", decimal) if decimal in {"comma", "point"} else None,
        encoding or None,
        corrections,
    )


def _by_sheet(
    form: Form, kept: Staged, before: Asked, encoding: str | None
) -> tuple[dict[str, Choices], tuple[str, ...]]:
    guessed = _look(kept, {}, encoding)
    ruling = {sheet.name: _ruling(form, number, sheet) for number, sheet in enumerate(guessed)}
    seen = _look(kept, ruling, encoding)
    left_out = tuple(
        sheet.name
        for number, sheet in enumerate(seen)
        if form.has(f"s{number}-shown") and not form.has(f"s{number}-read")
    )
    found = {}
    for number, sheet in enumerate(seen):
        said = before.by_sheet.get(sheet.name, Choices()).headers
        choices = _choices(form, number, sheet, ruling[sheet.name], said, _stations(kept, sheet.name))
        if choices != Choices():
            found[sheet.name] = choices
    return found, left_out if len(left_out) < len(seen) else ()


def _ruling(form: Form, number: int, sheet: SeenSheet) -> Choices:
    """What is said of the sheet as a whole: it rules what its columns seem to be."""
    table, station = form.text(f"s{number}-table"), form.text(f"s{number}-station")
    known = None if sheet.table is None else sheet.table.name
    return Choices(
        units={"station": station} if station in STATION_UNITS and station != sheet.station_unit else {},
        table=table if table and table != known else None,
    )


def _look(kept: Staged, by_sheet: Mapping[str, Choices], encoding: str | None) -> tuple[SeenSheet, ...]:
    with kept.content.open("rb") as stream:
        name = kept.name or PASTED
        return look_at(cast("Any", stream), name, memory(), by_sheet=by_sheet, encoding=encoding).sheets


def _choices(
    form: Form,
    number: int,
    sheet: SeenSheet,
    ruling: Choices,
    before: Mapping[str, str],
    shown: Mapping[int, str],
) -> Choices:
    headers: dict[str, str] = {}
    units: dict[str, str] = dict(ruling.units)
    keys = set() if sheet.table is None else keys_of(sheet.table)
    for column in sheet.columns:
        field = f"s{number}-c{column.index}"
        if not column.header or not form.has(f"{field}-key"):
            continue
        key = form.text(f"{field}-key")
        if key == NOT_KNOWN and form.has("pass-over") and column.key == NOT_KNOWN:
            key = PASSED_OVER
        at = form.text(f"{field}-at")
        if key == READING and column.key != READING and not at:
            raise _station_missing(column.header, field)
        if key == READING and at == shown.get(column.index):
            if column.header in before:  # untouched: as it was said, or as the header has it
                headers[column.header] = before[column.header]
        elif key == READING and (column.key != READING or (at and at != column.at)):
            headers[column.header] = at if at in NAMED_PLACES else f"D {at}"
        elif key != column.key and (key in keys or key == PASSED_OVER):
            headers[column.header] = key
        unit = form.text(f"{field}-unit")
        if unit and unit in column.units and unit != column.unit:
            units[column.header] = unit
    return Choices(headers, units, ruling.table)


def _stations(kept: Staged, sheet: str) -> dict[int, str]:
    """The stations of reading columns as the page showed them."""
    seen = seen_of(kept) or {"sheets": []}
    columns: list[dict[str, Any]] = next((x["columns"] for x in seen["sheets"] if x["name"] == sheet), [])
    return {column["index"]: column["at"] for column in columns if column["key"] == READING}


def _station_missing(header: str, field: str) -> InputError:
    text = f"it is not said where the readings under {header!r} were measured"
    remedy = 'write the station beside it, such as "12 in", "thick", "mid" or "point"'
    return InputError(Finding("station-missing", text, remedy, field))


def _corrections(form: Form, before: Asked) -> dict[str, dict[int, dict[int, str]]]:
    """Cells of the form that differ from how they were shown, beside those put right before."""
    found = {
        sheet: {line: dict(cells) for line, cells in x.items()} for sheet, x in before.corrections.items()
    }
    for name in form.texts():
        cell = _CELL.fullmatch(name)
        if cell is None or not form.has(f"sheet-{cell[1]}"):
            continue
        sheet, line, column = form.raw(f"sheet-{cell[1]}"), form.text(f"line-{cell[1]}"), int(cell[2])
        # A field of one line holds no line breaks: what differs in them alone was not touched.
        text, was = form.raw(name), form.raw(f"was-{cell[1]}-{cell[2]}")
        if _LINE.fullmatch(line) is not None and _on_one_line(text) != _on_one_line(was):
            found.setdefault(sheet, {}).setdefault(int(line), {})[column] = text
    return found


def _on_one_line(text: str) -> str:
    return text.replace("\r", "").replace("\n", "")
