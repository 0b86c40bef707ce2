"""How many rows a table holds, counted by other means than the ones that read it.

CSV by the grammar of RFC 4180 as one regular expression; a line on which no row of that grammar begins, or on
which one begins that goes over too many lines, is a row by itself. xlsx by the elements of each sheet.
"""

import io
import re
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree

from plaitlog.service.usecases.spreadsheets.table import DEFAULT_LIMITS

LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n|\Z)")


def csv_rows(text: str, delimiter: str, blanks_before_quotes: bool) -> int:
    """Rows that are not blank, the header among them."""
    mark = re.escape(delimiter)
    blanks = " *" if blanks_before_quotes else ""
    quoted = f'{blanks}"(?:[^"]++|"")*+"'
    bare = f'(?!{blanks}")[^\r\n{mark}]*+'
    row = re.compile(f"(?:{quoted}|{bare})(?:{mark}(?:{quoted}|{bare}))*+(?:\r\n|\r|\n|\\Z)")
    empty = f'(?:{blanks}"\\s*"|[^\\S{mark}]*)'
    blank = re.compile(f"{empty}(?:{mark}{empty})*\\s*")
    place = count = 0
    while place < len(text):
        found = row.match(text, place)
        if found is None or not _is_one_row(found.group()):
            found = LINE.match(text, place)
            assert found is not None
            count += 1
        else:
            count += blank.fullmatch(found.group()) is None
        place = found.end()
    return count


def _is_one_row(text: str) -> bool:
    lines = len(re.findall(r"\r\n|\r|\n", text.rstrip("\r\n"))) + 1
    return lines <= DEFAULT_LIMITS.row_lines and len(text) <= DEFAULT_LIMITS.line_characters


def xlsx_rows(data: bytes) -> int:
    """Rows of all sheets that hold a value, an error or a formula."""
    count = 0
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for name in archive.namelist():
            if name.startswith("xl/worksheets/"):
                page = ElementTree.fromstring(archive.read(name))
                count += len(set(_held_rows(page)))
    return count


def _held_rows(page: ElementTree.Element) -> Iterator[int]:
    """The row of each cell that holds anything, by its own address or by its place."""
    number = 0
    for part in page.iter():
        if _name(part) == "row":
            stated = part.get("r", "")
            number = int(stated) if stated.isdecimal() else number + 1
        elif _name(part) == "c":
            number = int(re.sub("[^0-9]", "", part.get("r", f"A{max(number, 1)}")))
            if _holds(part):
                yield number


def _name(part: ElementTree.Element) -> str:
    """Without its namespace, which readers of spreadsheets do not look at."""
    return part.tag.rpartition("}")[2]


def _holds(cell: ElementTree.Element) -> bool:
    names = {_name(part) for part in cell.iter()}
    if "f" in names or cell.get("t") == "e":
        return True
    return any((part.text or "").strip() for part in cell.iter() if _name(part) in ("v", "t"))
