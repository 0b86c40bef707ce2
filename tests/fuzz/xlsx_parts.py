"""Workbooks put together part by part, as no library would write them."""

import io
import zipfile
from xml.sax.saxutils import escape

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="xml" ContentType="application/xml"/></Types>'
)

Parts = dict[str, str | bytes]


def number(value: object) -> str:
    """The inside of a cell that holds a number, behind its address."""
    return f"><v>{value}</v>"


def text(value: str) -> str:
    """The inside of a cell that holds a text of its own."""
    return f' t="inlineStr"><is><t xml:space="preserve">{escape(value)}</t></is>'


def rows(*given: list[str], first: int = 1) -> str:
    """The rows of a sheet; an empty string is no cell."""
    made = []
    for line, cells in enumerate(given, start=first):
        inside = "".join(f'<c r="{chr(65 + k)}{line}"{cell}</c>' for k, cell in enumerate(cells) if cell)
        made.append(f'<row r="{line}">{inside}</row>')
    return "".join(made)


def sheet(inside: str, after: str = "") -> str:
    """The part of a sheet."""
    return f'<worksheet xmlns="{MAIN}"><sheetData>{inside}</sheetData>{after}</worksheet>'


def parts(*sheets: str, relationships: str = "", states: tuple[str, ...] = ()) -> Parts:
    """All parts of a workbook, by name."""
    states = states or ("visible",) * len(sheets)
    named = "".join(
        f'<sheet name="Sheet{k}" sheetId="{k}" state="{state}" r:id="rId{k}"/>'
        for k, state in enumerate(states, start=1)
    )
    targets = "".join(
        f'<Relationship Id="rId{k}" Type="{OFFICE}/worksheet" Target="worksheets/sheet{k}.xml"/>'
        for k in range(1, len(sheets) + 1)
    )
    found: Parts = {
        "[Content_Types].xml": TYPES,
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE}">'
        f'<Relationship Id="rId1" Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>{named}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE}">{targets}{relationships}'
        "</Relationships>",
    }
    for k, part in enumerate(sheets, start=1):
        found[f"xl/worksheets/sheet{k}.xml"] = part
    return found


def packed(found: Parts, compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Parts as a file."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression) as archive:
        for name, part in found.items():
            archive.writestr(zipfile.ZipInfo(name), part, compression)
    return stream.getvalue()
