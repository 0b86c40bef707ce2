"""Malformed xlsx files: odd cells, odd archives, and archives made to do harm."""

import datetime as dt
import io
import struct
import zipfile

import openpyxl

from tests.fuzz.malformed import HEAD, SOUND, Malformed, table
from tests.fuzz.xlsx_parts import MAIN, OFFICE, Parts, number, packed, parts, rows, sheet, text

HEADERS = [text(name) for name in HEAD.split(",")]
ROW = [text("w1"), "", number(1830), number(412), number(22.3), text("first")]
SECOND = [text("w2"), "", number(1900), number(420), number(22.1), ""]


def book(*given: list[str], after: str = "", more: Parts | None = None, relationships: str = "") -> bytes:
    """A workbook of one sheet of whips."""
    found = parts(sheet(rows(HEADERS, *given), after), relationships=relationships)
    return packed(found | (more or {}))


def with_openpyxl() -> bytes:
    """What another library writes: real dates, a formula without a value, merged cells, a hidden sheet."""
    workbook = openpyxl.Workbook()
    page = workbook.active
    assert page is not None
    page.append(HEAD.split(","))
    page.append(["w1", dt.date(2026, 3, 2), 1830, 412, 22.3, "first"])
    page.append(["w2", dt.datetime.fromisoformat("2026-03-09"), 1900, 420, "=20+2", "second"])
    page.append(["w3", None, None, None, None, None])
    page.merge_cells("F3:F4")
    hidden = workbook.create_sheet("more")
    hidden.sheet_state = "hidden"
    hidden.append(HEAD.split(","))
    hidden.append(["w4", None, 1500, None, None, None])
    workbook.create_sheet("empty")
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def bomb() -> bytes:
    """200 MB of blanks in one sheet, packed to 200 kB."""
    stream = io.BytesIO()
    found = parts(sheet(rows(HEADERS, ROW)))
    blanks = b" " * (1 << 20)
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in found.items():
            if name != "xl/worksheets/sheet1.xml":
                archive.writestr(name, part)
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as target:
            target.write(f'<worksheet xmlns="{MAIN}">'.encode())
            for _ in range(200):
                target.write(blanks)
            target.write(b"<sheetData/></worksheet>")
    return stream.getvalue()


def lying_bomb() -> bytes:
    """The same, but the directory of the archive says that the sheet is small."""
    data = bytearray(bomb())
    entry = data.rfind(b"xl/worksheets/sheet1.xml") - 46
    assert data[entry : entry + 4] == b"PK\x01\x02"
    struct.pack_into("<I", data, entry + 24, 10_000)
    return bytes(data)


def many_parts() -> bytes:
    found = parts(sheet(rows(HEADERS, ROW)))
    return packed(found | {f"xl/media/{k}": b"" for k in range(5_000)}, zipfile.ZIP_STORED)


def long_shared() -> bytes:
    """One text of 32 kB, which 100 000 cells refer to: 3 GB when each gets its own."""
    cells = "".join(f'<row r="{k}"><c r="A{k}" t="s"><v>0</v></c></row>' for k in range(1, 100_001))
    target = f'<Relationship Id="rIdS" Type="{OFFICE}/sharedStrings" Target="sharedStrings.xml"/>'
    found = parts(sheet(cells), relationships=target)
    found["xl/sharedStrings.xml"] = f'<sst xmlns="{MAIN}"><si><t>{"x" * 32_000}</t></si></sst>'
    return packed(found)


def entities() -> bytes:
    """Entities that each stand for ten of the one before."""
    declared = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10 if k else "xxxxxxxxxx"}">' for k in range(10))
    part = (
        f'<!DOCTYPE worksheet [{declared}]><worksheet xmlns="{MAIN}"><sheetData>&e9;</sheetData></worksheet>'
    )
    return packed(parts(part))


def encrypted() -> bytes:
    """The container that spreadsheet programs put an encrypted workbook in."""
    return (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + "EncryptedPackage".encode("utf-16-le") + bytes(400)
    )


def damaged() -> bytes:
    """A flipped bit in the middle of the packed sheet."""
    data = bytearray(book(*[ROW] * 1))
    place = data.find(b"xl/worksheets/sheet1.xml") + len("xl/worksheets/sheet1.xml") + 40
    data[place] ^= 0x10
    return bytes(data)


def external(kind: str, mode: str = "External") -> str:
    return f'<Relationship Id="rIdX" Type="{OFFICE}/{kind}" Target="file:///other.xlsx" TargetMode="{mode}"/>'


_FORMULA = "><f>20+2</f>"
_ERROR = ' t="e"><f>1/0</f><v>#DIV/0!</v>'
_NAMED = "whips.xlsx"

WORKBOOKS = [
    Malformed("a plain workbook", book(ROW, SECOND), rows=2, file_name=_NAMED),
    Malformed("a workbook named .csv", book(ROW), rows=1, findings=("other-kind",)),
    Malformed("a CSV file named .xlsx", table(SOUND), rows=1, findings=("other-kind",), file_name=_NAMED),
    Malformed(
        "dates, a formula without a value, merged cells, a hidden sheet",
        with_openpyxl(),
        rows=4,
        rejected={3: ("thick (mm)", "E3", "a formula whose value the file does not give", "save it")},
        at_sight=(3,),
        findings=("merged-cells", "hidden-sheet"),
        file_name=_NAMED,
    ),
    Malformed(
        "error values",
        book(ROW, [*SECOND[:4], _ERROR], [text("w3")]),
        rows=3,
        rejected={3: ("thick (mm)", "E3", "#DIV/0!", "type the value")},
        at_sight=(3,),
        file_name=_NAMED,
    ),
    Malformed(
        "a row that holds an error value and nothing else, below all others",
        book(ROW, [], ["", "", "", "", _ERROR], []),
        rows=2,
        rejected={4: ("thick (mm)", "E4", "#DIV/0!")},
        at_sight=(4,),
        file_name=_NAMED,
    ),
    Malformed("a formula with its value", book([*ROW[:4], _FORMULA + "<v>22</v>"]), rows=1, file_name=_NAMED),
    Malformed(
        "a formula that gives an empty text",
        book([*ROW[:5], ' t="str"><f>""</f><v></v>']),
        rows=1,
        file_name=_NAMED,
    ),
    Malformed(
        "a value beyond the header",
        book(ROW, [*SECOND, text("surplus")]),
        rows=2,
        rejected={3: ("G3", "'surplus'", "beyond the last column")},
        at_sight=(3,),
        file_name=_NAMED,
    ),
    Malformed(
        "a day as a bare number",
        book([ROW[0], number(46083), *ROW[2:]]),
        rows=1,
        rejected={2: ("made on", "46083", "is not a date")},
        file_name=_NAMED,
    ),
    Malformed("no cells at all", packed(parts(sheet(""))), error="empty", file_name=_NAMED),
    Malformed("an archive that ends early", book(ROW)[:-40], error="damaged", file_name=_NAMED),
    Malformed("an archive with a flipped bit", damaged(), error="damaged", file_name=_NAMED),
    Malformed(
        "cells in the wrong order",
        packed(parts(sheet(rows(HEADERS) + rows(ROW, first=9) + rows(SECOND, first=5)))),
        error="damaged",
        file_name=_NAMED,
    ),
    Malformed(
        "a cell with no address that can be",
        packed(parts(sheet('<row r="1"><c r="ZZZZ9"><v>1</v></c></row>'))),
        error="damaged",
        file_name=_NAMED,
    ),
    Malformed(
        "a text that is not there",
        packed(parts(sheet('<row r="1"><c r="A1" t="s"><v>7</v></c></row>'))),
        error="damaged",
        file_name=_NAMED,
    ),
    Malformed("markup that is not closed", packed(parts(sheet("<row>"))), error="damaged", file_name=_NAMED),
    Malformed("entities within entities", entities(), error="damaged", file_name=_NAMED),
    Malformed("a bomb of blanks", bomb(), error="file-too-large", file_name=_NAMED),
    Malformed("a bomb whose directory lies", lying_bomb(), error="damaged", file_name=_NAMED),
    Malformed("thousands of parts", many_parts(), error="file-too-large", file_name=_NAMED),
    Malformed(
        "one long text, a hundred thousand times", long_shared(), error="file-too-large", file_name=_NAMED
    ),
    Malformed(
        "two cells, as far apart as can be",
        packed(
            parts(
                sheet(
                    '<row r="1"><c r="A1"><v>1</v></c></row>'
                    '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
                )
            )
        ),
        error="file-too-large",
        file_name=_NAMED,
    ),
    Malformed(
        "a tag of two million characters",
        packed(parts(sheet(f'<row r="1" x="{"y" * 2_000_000}"/>'))),
        error="file-too-large",
        file_name=_NAMED,
    ),
    Malformed(
        "links to another workbook",
        book(ROW, more={"xl/externalLinks/externalLink1.xml": f'<externalLink xmlns="{MAIN}"/>'}),
        error="external-link",
        file_name=_NAMED,
    ),
    Malformed(
        "a relationship to another file",
        book(ROW, relationships=external("externalLinkPath")),
        error="external-link",
        file_name=_NAMED,
    ),
    Malformed(
        "a hyperlink, which does no harm",
        book(ROW, relationships=external("hyperlink")),
        rows=1,
        file_name=_NAMED,
    ),
    Malformed(
        "a connection to a database",
        book(ROW, more={"xl/connections.xml": f'<connections xmlns="{MAIN}"/>'}),
        error="external-link",
        file_name=_NAMED,
    ),
    Malformed("macros", book(ROW, more={"xl/vbaProject.bin": b"\0"}), error="macros", file_name="whips.xlsm"),
    Malformed("an encrypted workbook", encrypted(), error="encrypted", file_name=_NAMED),
    Malformed(
        "an old .xls file",
        encrypted().replace("EncryptedPackage".encode("utf-16-le"), "Workbook".encode("utf-16-le")),
        error="not-a-table",
        file_name="whips.xls",
    ),
    Malformed(
        "an OpenDocument file",
        packed({"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": "<x/>"}),
        error="not-a-table",
        file_name="whips.ods",
    ),
    Malformed(
        "a text document", packed({"word/document.xml": "<x/>"}), error="not-a-table", file_name="whips.docx"
    ),
    Malformed(
        "an archive of tables",
        packed({"whips.csv": table(SOUND)}),
        error="not-a-table",
        file_name="whips.zip",
    ),
]
