"""What a file is, by its first bytes and not by its name; what cannot be read is refused by its own name."""

import re
from typing import BinaryIO, Final, Literal

from plaitlog.models.errors import Finding, TableError

_AS_XLSX: Final = "open it in a spreadsheet program and save it as .xlsx or .csv"
_OTHERS: Final = (
    (b"%PDF-", "a PDF document"),
    (b"{\\rtf", "an RTF document"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7-Zip archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"\x89PNG\r\n", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"SQLite format 3\0", "an SQLite database"),
    (b"PAR1", "a Parquet file"),
)
_COMPOUND: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_JSON: Final = re.compile(rb"(?:\xef\xbb\xbf)?\s*[\[{]\s*[\[{\"]")
_MARKUP: Final = re.compile(rb"(?:\xef\xbb\xbf)?\s*<(!doctype html|html|table|\?xml)", re.IGNORECASE)
_CHUNK: Final = 1 << 20


def kind_of(stream: BinaryIO) -> Literal["csv", "zip"]:
    """Whether a seekable stream, left at its start, holds text or a zip archive such as an xlsx file.

    Raises
    ------
    TableError
        Where it holds neither.
    """
    start = stream.read(1024)
    stream.seek(0)
    if start.startswith((b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")):
        return "zip"
    if start.startswith(_COMPOUND):
        raise TableError(_compound(stream))
    for sign, name in _OTHERS:
        if start.startswith(sign):
            raise TableError(_not_a_table(name))
    if _MARKUP.match(start):
        raise TableError(_not_a_table("a web page or XML document"))
    if _JSON.match(start):
        remedy = "where it is JSON Lines, give it a name that ends in .jsonl"
        raise TableError(Finding("not-a-table", "the file holds JSON, which is no table", remedy))
    return "csv"


def _compound(stream: BinaryIO) -> Finding:
    """An old office document or an encrypted one: both are kept in the same kind of container."""
    names = {"EncryptedPackage": False, "Workbook": False, "Book": False}
    tail = b""
    while chunk := stream.read(_CHUNK):
        for name in names:
            names[name] = names[name] or name.encode("utf-16-le") in tail + chunk
        tail = chunk[-64:]
    if names["EncryptedPackage"]:
        return Finding("encrypted", "the file is encrypted with a password", "save it without a password")
    if names["Workbook"] or names["Book"]:
        return _not_a_table("a spreadsheet in the old .xls format")
    return _not_a_table("an old office document")


def _not_a_table(name: str) -> Finding:
    return Finding("not-a-table", f"the file is {name}, which cannot be read as a table", _AS_XLSX)
