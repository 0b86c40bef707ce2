"""The parts of an xlsx file, looked through and copied: what the library then reads is what was looked at."""

import posixpath
import struct
import zipfile
import zlib
from pathlib import Path
from typing import BinaryIO, Final

from plaitlog.models.errors import TableError
from plaitlog.service.usecases.spreadsheets.xlsx_guard import (
    damaged,
    is_read,
    is_sheet,
    open_archive,
    part_name,
)
from plaitlog.service.usecases.spreadsheets.xlsx_scan import (
    Part,
    Relationships,
    ScannedSheet,
    SharedTexts,
    Totals,
    WorkbookPart,
)
from plaitlog.service.usecases.spreadsheets.xlsx_scan_sheet import SheetPart

_CHUNK: Final = 1 << 16
_DAMAGED: Final = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    OSError,
    ValueError,
)
_FIRST: Final = ("xl/workbook.xml", "xl/sharedstrings.xml")


def copy_looked_through(stream: BinaryIO, target: Path) -> dict[str, ScannedSheet]:
    """A copy of the parts that hold cells, and what was seen in each sheet, by its name.

    Raises
    ------
    TableError
        Where the file is damaged, too large, or reaches out to others.
    """
    totals = Totals()
    parts: dict[str, ScannedSheet] = {}
    with open_archive(stream) as archive, zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as copy:
        entries = [entry for entry in archive.infolist() if is_read(part_name(entry))]
        entries.sort(key=lambda entry: part_name(entry) not in _FIRST)  # cells refer to the shared texts
        for entry in entries:
            part = _parser(part_name(entry), totals)
            _copy(archive, entry, copy, part)
            if isinstance(part, SheetPart):
                parts[part_name(entry)] = part.found
    sheets = {name: totals.targets.get(relationship, "") for name, relationship in totals.sheets}
    return {name: parts.get(_part_at(target), ScannedSheet()) for name, target in sheets.items()}


def _copy(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, copy: zipfile.ZipFile, part: Part) -> None:
    try:
        with archive.open(entry) as source, copy.open(_stored(entry), "w") as target:
            while piece := source.read(_CHUNK):
                part.feed(piece)
                target.write(piece)
            part.feed(b"", last=True)
    except (
        zipfile.BadZipFile,
        zlib.error,
        struct.error,
        EOFError,
        OSError,
        NotImplementedError,
        ValueError,
    ) as error:
        raise TableError(damaged(str(error))) from error


def _stored(entry: zipfile.ZipInfo) -> zipfile.ZipInfo:
    return zipfile.ZipInfo(entry.filename.replace("\\", "/").lstrip("/"))


def _parser(name: str, totals: Totals) -> Part:
    if is_sheet(name):
        return SheetPart(totals)
    if name == "xl/sharedstrings.xml":
        return SharedTexts(totals)
    if name == "xl/workbook.xml":
        return WorkbookPart(totals)
    if name.endswith(".rels"):
        return Relationships(totals, of_workbook=name == "xl/_rels/workbook.xml.rels")
    return Part(totals)


def _part_at(target: str) -> str:
    """The part a relationship of the workbook leads to: from the root where it begins with a slash."""
    return posixpath.normpath(posixpath.join("/xl", target)).lstrip("/").lower()
