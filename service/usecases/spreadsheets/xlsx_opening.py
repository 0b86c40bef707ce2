"""An xlsx file opened: looked through, then read by python-calamine from the copy that was looked at."""

import tempfile
from pathlib import Path
from typing import Any, BinaryIO, Final

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.usecases.spreadsheets.table import Sheet, TableLimits, Workbook
from plaitlog.service.usecases.spreadsheets.xlsx_copying import copy_looked_through
from plaitlog.service.usecases.spreadsheets.xlsx_guard import damaged
from plaitlog.service.usecases.spreadsheets.xlsx_rows import rows
from plaitlog.service.usecases.spreadsheets.xlsx_scan import ScannedSheet

_NAMED_AT_MOST: Final = 5


def open_xlsx(stream: BinaryIO, limits: TableLimits) -> Workbook:
    """A seekable stream as a workbook: every sheet that holds anything, hidden ones with a finding.

    Raises
    ------
    TableError
        Where the file is damaged, encrypted, too large, has macros or external links, or holds nothing.
    """
    sheets: list[Sheet] = []
    findings: list[Finding] = []
    with tempfile.TemporaryDirectory(prefix="plaitlog-", ignore_cleanup_errors=True) as folder:
        copy = Path(folder) / "copy.xlsx"
        seen = copy_looked_through(stream, copy)
        for name, hidden, values, first_column in _loaded(copy):
            scanned = seen.get(name, ScannedSheet())
            if values is None and not scanned.odd:
                continue
            sheets.append(Sheet(name, rows(values or [], first_column, scanned, limits)))
            findings.extend(_remarks(name, hidden, scanned))
    if not sheets:
        raise TableError(Finding("empty", "the file holds no table", "save the spreadsheet again"))
    return Workbook("xlsx", None, None, None, sheets, findings)


def _loaded(path: Path) -> list[tuple[str, bool, Any, int]]:
    """Name, whether hidden, rows (None where there are none) and first column of each sheet."""
    import python_calamine

    found: list[tuple[str, bool, Any, int]] = []
    try:
        with python_calamine.CalamineWorkbook.from_path(path) as book:
            for number, sheet in enumerate(book.sheets_metadata):
                if sheet.typ != python_calamine.SheetTypeEnum.WorkSheet:
                    continue
                hidden = sheet.visible != python_calamine.SheetVisibleEnum.Visible
                values = book.get_sheet_by_index(number)
                start = values.start
                found.append(
                    (sheet.name, hidden, values.iter_rows() if start else None, start[1] if start else 0)
                )
    except BaseException as error:
        # A panic of the library, which is written in Rust, is no Exception.
        if isinstance(error, Exception) or type(error).__name__ == "PanicException":
            raise TableError(damaged(str(error))) from error
        raise
    return found


def _remarks(name: str, hidden: bool, seen: ScannedSheet) -> list[Finding]:
    found: list[Finding] = []
    place = f"sheet {name!r}"
    if hidden:
        found.append(Finding("hidden-sheet", "is hidden, and is read", "delete it if it is not meant", place))
    if seen.merged:
        named = ", ".join(seen.merged[:_NAMED_AT_MOST])
        more = len(seen.merged) - _NAMED_AT_MOST
        text = f"cells are merged ({named}{f' and {more} more' if more > 0 else ''})"
        remedy = "the value counts for the first of them only; fill the others where it is meant for them too"
        found.append(Finding("merged-cells", text, remedy, place))
    return found
