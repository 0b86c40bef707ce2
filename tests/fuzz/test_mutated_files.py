"""Ten thousand injured files: no crash, no row lost, every refusal complete; the seed is in the name."""

import codecs
import io
import random

import pytest

from plaitlog.models.errors import TableError
from plaitlog.service.usecases.spreadsheets.csv_dialect import has_blanks_before_quotes
from plaitlog.service.usecases.spreadsheets.reading import open_table
from plaitlog.service.usecases.spreadsheets.table import RawRow, Workbook
from tests.fuzz.malformed import MORE, SOUND, semicolons, table
from tests.fuzz.malformed_xlsx import HEADERS, ROW, SECOND
from tests.fuzz.mutation import mutated
from tests.fuzz.row_count import csv_rows, xlsx_rows
from tests.fuzz.test_named_files import assert_complete
from tests.fuzz.xlsx_parts import packed, parts, rows, sheet

QUOTED = 'w3,2026-03-10,"1,830",400,"22.3 mm","called ""the ridge""\r\nwaxed twice"'
SEEDS = [
    table(SOUND, MORE, QUOTED, SOUND.replace("w1", "w4"), 'w5, , ,"400", "a, b",'),
    semicolons("w1;2026-03-02;1830,5;412;22,3;erste", "w2;;;;21,75;", 'w3;;;;;"drei; vier"'),
    table(SOUND, MORE, QUOTED, end="\n", encoding="utf-16"),
    table(SOUND, "w2,,1830,,,für Jörg", "w3,,1830,,,½ in", encoding="cp1252"),
    codecs.BOM_UTF8 + table("w1,,1830,,,für Jörg", QUOTED, MORE, end="\r"),
]
BATCHES, BATCH = 40, 250
TOKENS = [
    b"<c>", b"</c>", b"<v>", b"</v>", b"<row>", b"</row>", b"<f>1</f>", b't="e"', b't="s"', b't="str"',
    b't="b"', b't="d"', b'r="A1"', b'r="C7"', b'r="XFD9"', b's="1"', b"&amp;", b"&#0;", b"&x;", b"<!--",
    b"-->", b"<![CDATA[", b"1e309", b"NaN", b"<is/>", b"\xff", b"\0", b" ", b"9999999", b"-1", b"_x0041_",
    b'r="0"', b"<c/>", b'<c r="B2"/>', b"<!DOCTYPE x>",
]  # fmt: skip


def read(data: bytes, name: str) -> tuple[Workbook, list[list[RawRow]]] | None:
    """The file with its rows, or None where it is refused whole, with everything it takes to mend it."""
    try:
        workbook = open_table(io.BytesIO(data), name)
        sheets = [list(sheet.rows) for sheet in workbook.sheets]
    except TableError as error:
        assert_complete(error.finding)
        return None
    for found in sheets:
        numbers = [row.number for row in found]
        assert numbers == sorted(set(numbers))
        for row in found:
            if row.refusal is not None:
                assert_complete(row.refusal)
            else:
                assert len(row.cells) == len(found[0].cells)
    return workbook, sheets


@pytest.mark.parametrize("batch", range(BATCHES))
def test_every_row_of_an_injured_csv_file_is_given_or_refused(batch: int) -> None:
    chance = random.Random(batch)
    for _ in range(BATCH):
        data = mutated(chance.choice(SEEDS), chance)
        if (found := read(data, "whips.csv")) is None:
            continue
        workbook, (given,) = found
        assert len(given) == rows_of(data, workbook), data


def rows_of(data: bytes, workbook: Workbook) -> int:
    """Rows of the file by another count, in the encoding and with the delimiter that were found."""
    assert workbook.encoding is not None
    assert workbook.delimiter is not None
    for mark in (codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        data = data.removeprefix(mark)
    text = data.decode(workbook.encoding, "replace")
    first, _, rest = text.partition("\n")
    if first.lower().startswith("sep=") and len(first.rstrip("\r")) == 5:
        text = rest
    return csv_rows(text, workbook.delimiter, has_blanks_before_quotes(text.splitlines(), workbook.delimiter))


@pytest.mark.parametrize("batch", range(10))
def test_every_row_of_an_injured_sheet_is_given_or_refused(batch: int) -> None:
    chance = random.Random(batch)
    plain = sheet(rows(HEADERS, ROW, SECOND, [], [*ROW[:3], ' t="e"><v>#N/A</v>'])).encode()
    for _ in range(100):
        data = packed(parts(sheet("")) | {"xl/worksheets/sheet1.xml": mutated(plain, chance, TOKENS)})
        if (found := read(data, "whips.xlsx")) is not None:
            assert sum(map(len, found[1])) == xlsx_rows(data), data


@pytest.mark.parametrize("batch", range(5))
def test_an_injured_archive_is_read_or_refused(batch: int) -> None:
    chance = random.Random(batch)
    plain = packed(parts(sheet(rows(HEADERS, ROW, SECOND))))
    for _ in range(100):
        read(mutated(plain, chance, TOKENS), "whips.xlsx")
