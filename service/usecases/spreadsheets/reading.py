"""Reading a spreadsheet: CSV in any dialect and encoding, or xlsx. Its bytes say what it is, not its name.

Texts that an export of this project made neutral come back as they were (see ``neutral.plain``).
"""

import tempfile
from typing import BinaryIO, Final, cast

from plaitlog.models.errors import Finding, TableError
from plaitlog.service.usecases.spreadsheets.csv_opening import open_csv
from plaitlog.service.usecases.spreadsheets.file_kind import kind_of
from plaitlog.service.usecases.spreadsheets.table import DEFAULT_LIMITS, TableLimits, Workbook

_CHUNK: Final = 1 << 20


def open_table(
    stream: BinaryIO,
    name: str,
    *,
    size_bytes: int | None = None,
    limits: TableLimits = DEFAULT_LIMITS,
    encoding: str | None = None,
) -> Workbook:
    """A file opened as tables, to be gone through once while the stream is open.

    Parameters
    ----------
    stream : the file, opened for reading bytes; what cannot seek is copied to a temporary file first.
    name : of the file, for messages.
    size_bytes : where it is known; what is too large is then refused before it is read.
    encoding : of a CSV file where the maker knows it; a byte order mark in the file goes before it.

    Raises
    ------
    TableError
        Where the file as a whole cannot be read; also while rows are read, where there are too many.
    """
    try:
        if size_bytes is not None and size_bytes > limits.file_bytes:
            raise TableError(_too_large(limits))
        seekable = _seekable(stream, limits)
        if kind_of(seekable) == "zip":
            from plaitlog.service.usecases.spreadsheets.xlsx_opening import open_xlsx

            return _named(open_xlsx(seekable, limits), name)
        return _named(open_csv(seekable, limits, encoding), name)
    except TableError as error:
        raise TableError(error.finding.at(name)) from error


def _seekable(stream: BinaryIO, limits: TableLimits) -> BinaryIO:
    """The stream at its start, or a copy of what is left of one that cannot go back."""
    if stream.seekable():
        if stream.seek(0, 2) > limits.file_bytes:
            raise TableError(_too_large(limits))
        stream.seek(0)
        return stream
    copy = cast("BinaryIO", tempfile.TemporaryFile())  # noqa: SIM115 - lives as long as the workbook
    size = 0
    while chunk := stream.read(_CHUNK):
        size += len(chunk)
        if size > limits.file_bytes:
            raise TableError(_too_large(limits))
        copy.write(chunk)
    copy.seek(0)
    return copy


def _named(found: Workbook, name: str) -> Workbook:
    """The workbook, with a finding where the name of the file says something else than its bytes."""
    other = {"csv": ".xlsx", "xlsx": ".csv"}[found.kind]
    if name.lower().endswith(other):
        found.findings.append(
            Finding("other-kind", f"the file is {found.kind} by what it holds", "rename it")
        )
    return found


def _too_large(limits: TableLimits) -> Finding:
    megabytes = limits.file_bytes // 1_000_000
    return Finding(
        "file-too-large", f"the file is larger than {megabytes} MB", "divide it into several files"
    )
