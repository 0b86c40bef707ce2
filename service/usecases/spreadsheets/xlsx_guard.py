"""What is in an xlsx file, looked at before anything is unpacked: a zip archive with parts by name.

Only the parts that hold cells are ever unpacked, and no more of them than the limits below. How strongly a
part is compressed says little (an even table packs to a hundredth and is harmless), so the sum of what would
be unpacked is limited, not the ratio.
"""

import zipfile
from typing import BinaryIO, Final

from plaitlog.models.errors import Finding, TableError

PARTS: Final = 2_000
"""Parts of an archive, pictures included; a workbook has some tens."""
READ_BYTES: Final = 100_000_000
"""What all parts that are read may hold unpacked: they are read in a stream, so this limits time (4 s)."""
SIDE_BYTES: Final = 10_000_000
"""What a part that holds neither cells nor texts (styles, relationships) may hold unpacked."""

_ENTRY: Final = b"PK\x01\x02"
_CHUNK: Final = 1 << 20
_READ: Final = ("[content_types].xml", "xl/workbook.xml", "xl/styles.xml", "xl/sharedstrings.xml")
_EXTERNAL: Final = ("xl/externallinks/", "xl/connections.xml", "xl/querytables/")
_MACROS: Final = ("xl/macrosheets/", "xl/dialogsheets/")


def open_archive(stream: BinaryIO) -> zipfile.ZipFile:
    """The archive, when it is an xlsx file that may be read.

    Raises
    ------
    TableError
        Where it is something else, damaged, encrypted, too large, or reaches out to other files.
    """
    if _entries(stream) > PARTS:
        raise TableError(too_large(f"the file has more than {PARTS} parts"))
    try:
        archive = zipfile.ZipFile(stream)
    except (zipfile.BadZipFile, NotImplementedError, OSError, ValueError) as error:
        raise TableError(damaged(str(error))) from error
    names = [part_name(entry) for entry in archive.infolist()]
    if "xl/workbook.xml" not in names:
        raise TableError(_another(archive, names))
    if len(set(names)) < len(names):
        raise TableError(damaged("a part stands in it twice"))
    if any(name.startswith(_EXTERNAL) for name in names):
        raise TableError(external("it takes values from other files or a database"))
    if any(name.startswith(_MACROS) or name.endswith("vbaproject.bin") for name in names):
        finding = Finding("macros", "the file holds macros", "save it as .xlsx, which has none, or as .csv")
        raise TableError(finding)
    for entry in archive.infolist():
        _check(entry)
    if sum(entry.file_size for entry in archive.infolist() if is_read(part_name(entry))) > READ_BYTES:
        raise TableError(too_large(f"unpacked, the file holds more than {READ_BYTES // 1_000_000} MB"))
    return archive


def part_name(entry: zipfile.ZipInfo) -> str:
    """The name of a part in lower case: spreadsheet programs do not tell large from small letters."""
    return entry.filename.replace("\\", "/").lstrip("/").lower()


def is_read(name: str) -> bool:
    """Whether a part is unpacked: those that hold cells, and all relationships."""
    return name in _READ or name.endswith(".rels") or is_sheet(name)


def is_sheet(name: str) -> bool:
    """Whether a part holds the cells of a sheet."""
    return name.startswith("xl/worksheets/") and name.endswith(".xml")


def damaged(reason: str) -> Finding:
    """The finding for a file that cannot be unpacked or parsed."""
    return Finding(
        "damaged", f"the file is damaged: {reason}", "open it in a spreadsheet program and save it anew"
    )


def external(reason: str) -> Finding:
    """The finding for a file that reaches out to others."""
    return Finding("external-link", f"the file has external links: {reason}", "save the sheet as CSV")


def too_large(reason: str) -> Finding:
    """The finding for a file that would fill the memory."""
    return Finding("file-too-large", reason, "save the sheet as CSV, which is read row by row")


def _entries(stream: BinaryIO) -> int:
    """How many parts the directory can list at most: whatever its head says, each has this sign."""
    stream.seek(0)
    count, tail = 0, b""
    while chunk := stream.read(_CHUNK):
        count += (tail + chunk).count(_ENTRY)
        tail = chunk[-len(_ENTRY) + 1 :]
    stream.seek(0)
    return count


def _check(entry: zipfile.ZipInfo) -> None:
    name = part_name(entry)
    if entry.flag_bits & 1:
        raise TableError(Finding("encrypted", "the file is encrypted", "save it without a password"))
    if not is_read(name):
        return
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise TableError(damaged("it is packed in a way that no spreadsheet program uses"))
    side = not is_sheet(name) and name != "xl/sharedstrings.xml"
    if side and entry.file_size > SIDE_BYTES:
        raise TableError(too_large(f"{entry.filename} holds more than {SIDE_BYTES // 1_000_000} MB"))


def _another(archive: zipfile.ZipFile, names: list[str]) -> Finding:
    remedy = "open it in a spreadsheet program and save it as .xlsx or .csv"
    what = "a zip archive"
    if "xl/workbook.bin" in names:
        what = "a spreadsheet in the .xlsb format"
    elif "mimetype" in names and "content.xml" in names:
        what = "an OpenDocument file (.ods)"
    elif any(name.startswith("word/") for name in names):
        what = "a text document (.docx)"
    elif any(name.endswith((".csv", ".xlsx", ".jsonl")) for name in names):
        what, remedy = "a zip archive", "unpack it and import the files in it"
    archive.close()
    return Finding("not-a-table", f"the file is {what}, which cannot be read as a table", remedy)
