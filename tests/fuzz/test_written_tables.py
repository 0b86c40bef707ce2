"""What is written as CSV and xlsx, read by the standard library, by openpyxl, and by this project."""

import csv
import datetime as dt
import io
import math
import re
import zipfile
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from plaitlog.models.errors import TableError
from plaitlog.service.usecases.spreadsheets.reading import open_table
from plaitlog.service.usecases.spreadsheets.table import Cell
from plaitlog.service.usecases.spreadsheets.writing import number_text, plain, write_csv, write_xlsx

# What a database and XML take.
texts = st.text(
    alphabet=st.characters(exclude_categories=["Cs"], exclude_characters="\0\ufffe\uffff"), max_size=20
)
tricky = st.text(alphabet="=+-@\t\r\n '\"a1,;|_x0D\x01\x85\u2028", max_size=12)
floats = st.floats(allow_nan=False, allow_infinity=False)
cells = st.one_of(st.none(), texts, tricky, floats, st.integers(-(2**53), 2**53), st.booleans())
days = st.dates(min_value=dt.date(1900, 3, 1), max_value=dt.date(9999, 12, 31))
tables = st.lists(st.lists(st.one_of(cells, days), min_size=3, max_size=3), max_size=6)
HEADER: list[Cell] = ["label", "made on", "notes"]


def csv_bytes(rows: list[list[Cell]]) -> bytes:
    return b"".join(write_csv([HEADER, *rows]))


def xlsx_bytes(rows: list[list[Cell]]) -> bytes:
    stream = io.BytesIO()
    write_xlsx(stream, [("whips", [HEADER, *rows])])
    return stream.getvalue()


def read_back(data: bytes) -> list[list[Cell]]:
    (sheet,) = open_table(io.BytesIO(data), "table").sheets
    header, *rows = sheet.rows
    assert header.cells == HEADER
    assert all(row.refusal is None for row in rows)
    return [row.cells for row in rows]


def as_text(cell: Cell) -> str:
    """A cell as CSV gives it back."""
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, float | int):
        return number_text(cell)
    return "" if cell is None else str(cell)


def filled(rows: list[list[Cell]]) -> list[list[Cell]]:
    """Rows that hold anything: blank ones are no rows."""
    return [row for row in rows if any(as_text(cell).strip() for cell in row)]


@given(floats)
def test_numbers_are_plain_decimals_that_read_back_as_the_same_number(number: float) -> None:
    text = number_text(number)
    assert re.fullmatch(r"-?\d+(\.\d*[1-9])?", text)
    assert float(text) == number
    assert math.copysign(1, float(text)) == math.copysign(1, number)


@given(floats.filter(lambda number: 1e-4 < abs(number) < 1e15))
def test_no_shorter_decimal_reads_back_as_the_same_number(number: float) -> None:
    digits = number_text(number).lstrip("-").replace(".", "").strip("0")
    shorter = f"%.{max(len(digits) - 2, 0)}e" % number
    assert len(digits) == 1 or float(shorter) != number or Decimal(shorter) == Decimal(number_text(number))


@given(tables)
def test_csv_is_read_by_the_standard_library_as_it_was_meant(rows: list[list[Cell]]) -> None:
    data = csv_bytes(rows)
    assert data.startswith(b"\xef\xbb\xbf")
    found = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))
    assert [[plain(cell) for cell in row] for row in found] == [
        HEADER,
        *([as_text(c) for c in row] for row in rows),
    ]
    for k, row in enumerate(found[1:]):
        for cell, meant in zip(row, rows[k], strict=True):
            assert not isinstance(meant, str) or not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


@example([[None, None, "\n"]])
@given(tables)
def test_csv_comes_back_cell_by_cell(rows: list[list[Cell]]) -> None:
    assert read_back(csv_bytes(rows)) == [[as_text(cell) for cell in row] for row in filled(rows)]


@settings(deadline=None)
@example([[None, None, "\n"]])
@given(tables)
def test_xlsx_comes_back_cell_by_cell(rows: list[list[Cell]]) -> None:
    meant = [[None if cell == "" else cell for cell in row] for row in filled(rows)]
    found = read_back(xlsx_bytes(rows))
    assert found == meant
    assert [[type(cell) is bool for cell in row] for row in found] == [
        [type(cell) is bool for cell in row] for row in meant
    ]


@settings(deadline=None, max_examples=30)
@given(tables)
def test_openpyxl_finds_texts_numbers_and_days_and_nothing_to_run(rows: list[list[Cell]]) -> None:
    page = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(rows)))["whips"]
    for number, row in enumerate(rows, start=2):
        for column, cell in enumerate(row, start=1):
            found = page.cell(number, column)
            assert found.data_type != "f"
            assert found.hyperlink is None
            if isinstance(cell, float | int):
                assert found.value == cell
            if isinstance(cell, dt.date):
                assert found.value == dt.datetime.combine(cell, dt.time())
            if isinstance(cell, str) and found.value is not None:
                assert not str(found.value).startswith(("=", "+", "-", "@", "\t", "\r"))


@settings(deadline=None, max_examples=20)
@given(tables)
def test_the_same_rows_give_the_same_bytes(rows: list[list[Cell]]) -> None:
    first, second = xlsx_bytes(rows), xlsx_bytes(rows)
    assert first == second


def test_no_name_of_a_person_a_computer_or_a_time_is_in_a_workbook() -> None:
    with zipfile.ZipFile(io.BytesIO(xlsx_bytes([["w1", None, "first"]]))) as archive:
        properties = archive.read("docProps/core.xml").decode()
        assert {entry.date_time[0] for entry in archive.infolist()} == {1980}
    assert "2000-01-01T00:00:00Z" in properties
    assert "<dc:creator></dc:creator>" in properties


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none_cannot_be_written(number: float) -> None:
    with pytest.raises(ValueError, match="cannot stand in a table"):
        csv_bytes([[number, None, None]])
    with pytest.raises(ValueError, match="cannot stand in a table"):
        xlsx_bytes([[number, None, None]])


def test_a_text_longer_than_a_cell_is_refused_and_not_cut() -> None:
    with pytest.raises(TableError, match="32768 characters"):
        xlsx_bytes([["x" * 32_768, None, None]])
    assert read_back(xlsx_bytes([["x" * 32_767, None, None]])) == [["x" * 32_767, None, None]]


@pytest.mark.parametrize("character", ["\ufffe", "\uffff"])
def test_a_character_that_xml_has_not_is_refused_in_xlsx_and_kept_in_csv(character: str) -> None:
    with pytest.raises(TableError, match="an xlsx file cannot"):
        xlsx_bytes([[f"a{character}", None, None]])
    assert read_back(csv_bytes([[f"a{character}", None, None]])) == [[f"a{character}", "", ""]]


def test_whole_numbers_that_no_float_holds_stay_exact() -> None:
    assert read_back(xlsx_bytes([[2**53 + 1, None, None]])) == [[str(2**53 + 1), None, None]]


def test_days_before_the_calendar_of_spreadsheets_are_texts() -> None:
    assert read_back(xlsx_bytes([["w1", dt.date(1899, 5, 1), None]])) == [["w1", "1899-05-01", None]]
