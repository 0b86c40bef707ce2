"""Numbers, dates and units in cells: one reading, or a refusal that says how to mend it."""

import datetime as dt
import io
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook
from sqlalchemy import Engine

from plaitlog.models.errors import ImportRefusedError, InputError
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.spreadsheets.days import read_day
from plaitlog.service.usecases.spreadsheets.numbers import DecimalEvidence, Mark, plain_number
from plaitlog.service.usecases.spreadsheets.texts import read_text, write_text
from plaitlog.service.usecases.workshop import whip, whips
from tests.spreadsheets.workshop_files import as_csv, as_xlsx, take, take_all
from tests.usecases.test_round_trip import emptied

WHIP = {"kind": "whip", "label": "W", "thong_length_mm": 2000}


@pytest.mark.parametrize(
    ("text", "mark", "number"),
    [
        ("12,7", None, "12.7"),
        ("12.7", "comma", "12.7"),
        ("0,125", None, "0.125"),
        ("0.125", "comma", "0.125"),
        ("1,234", "comma", "1.234"),
        ("1,234", "point", "1234"),
        ("1.234", "comma", "1234"),
        ("1.234", "point", "1.234"),
        ("1.234", None, "1.234"),
        ("1.234,5", None, "1234.5"),
        ("1,234.5", None, "1234.5"),
        ("1'234.5", None, "1234.5"),
        ("1 234,5", None, "1234.5"),
        ("1\u202f830 mm", None, "1830 mm"),
        ("1,234,567", None, "1234567"),
        ("1.830 mm", "comma", "1830 mm"),
        ("12,70 mm", "point", "12.70 mm"),
        ("-4,5", None, "-4.5"),
        ("5' 6 1/2\"", "comma", "5' 6 1/2\""),
        ("1/2 in", "comma", "1/2 in"),
        ("1,2,3", None, "1,2,3"),
        ("", None, ""),
    ],
)
def test_a_number_is_read_by_the_marks_of_its_file(text: str, mark: Mark | None, number: str) -> None:
    assert plain_number(text, mark) == number


def test_what_has_two_readings_is_refused_with_both() -> None:
    with pytest.raises(InputError, match=r"'1,234' can be 1\.234 or 1234; say --decimal comma or"):
        plain_number("1,234", None)
    with pytest.raises(InputError, match="can be"):
        plain_number("1.234", None, semicolons=True)


@given(st.integers(0, 10**8), st.integers(0, 6), st.sampled_from(["comma", "point"]), st.booleans())
def test_a_number_written_in_either_way_is_read_back(
    digits: int, places: int, mark: Mark, grouped: bool
) -> None:
    plain = f"{digits / 10**places:.{places}f}"
    whole, _, part = plain.partition(".")
    sign, group = (",", ".") if mark == "comma" else (".", ",")
    whole = f"{int(whole):,}".replace(",", group) if grouped else whole
    written = whole + (sign + part if part else "")
    assert plain_number(written, mark) == plain
    evidence = DecimalEvidence()
    evidence.see(written)
    assert evidence.mark() in (mark, None)


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("2026-03-02", "2026-03-02"),
        ("2.3.2026", "2026-03-02"),
        ("02.03.2026", "2026-03-02"),
        ("25/04/2026", "2026-04-25"),
        ("04/25/2026", "2026-04-25"),
        ("03/03/2026", "2026-03-03"),
        ("2026/03/02", "2026-03-02"),
        ("2 Mar 2026", "2026-03-02"),
        ("March 2nd, 2026", "2026-03-02"),
        ("2026-03-02 00:00:00", "2026-03-02"),
        (dt.date(2026, 3, 2), "2026-03-02"),
        (dt.datetime(2026, 3, 2, 11, 30, tzinfo=dt.UTC), "2026-03-02"),
    ],
)
def test_dates(cell: object, day: str) -> None:
    assert read_day(cell) == day


@pytest.mark.parametrize("cell", ["45000", "31.02.2026", "2.3.26", "13/13/2026", "spring 2026", "x 3 2026"])
def test_what_is_no_date_is_refused(cell: str) -> None:
    with pytest.raises(InputError, match="is not a date; write it like 2026-03-02"):
        read_day(cell)


def test_a_date_that_can_be_two_days_is_refused_with_both() -> None:
    with pytest.raises(InputError, match="can be 2026-03-04 or 2026-04-03; write it like"):
        read_day("03/04/2026")


@given(st.text(max_size=40))
def test_every_text_comes_back_from_a_cell_that_loses_blanks_at_its_ends(text: str) -> None:
    assert read_text(write_text(text).strip()) == text


def refusals(engine: Engine, text: str) -> str:
    with pytest.raises(ImportRefusedError) as refused:
        take(engine, text)
    return "\n".join(map(str, refused.value.findings))


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("W,12,14 mm", "column 'At': no unit in '12', nor in the header; write '12 in'"),
        ("W,1 ft,0.5", "column 'Diameter': no unit in '0.5', nor in the header; write '0.5 in'"),
        ("W,1 ft,-4.0 mm", "column 'Diameter': '-4.0 mm' is not a diameter; give a number that is more than"),
        ("W,1 ft,1e309 mm", "column 'Diameter': '1e309 mm': 'e309 mm' is no unit of diameter; write"),
        ("W,1 ft,NaN", "column 'Diameter': 'NaN' is not a diameter"),
        ("W,1 ft,412 g", "column 'Diameter': '412 g': a diameter cannot be meant in g; write"),
        ("W,3 m,14 mm", "column 'At': '3 m': 3000 mm lies past the point at 2000 mm; check the station"),
        ("W,1 ft,", "has no size"),
        ("V,1 ft,14 mm", "column 'Whip': no whip 'V' is in the workshop or in this file"),
        (",1 ft,14 mm", "column 'Whip': the row does not say whose it is"),
        ("W,1 ft,14 mm,x", "'x' stands beyond the last column"),
    ],
)
def test_a_refusal_names_line_column_value_and_remedy(sqlite_engine: Engine, row: str, told: str) -> None:
    with writing(sqlite_engine) as session:
        take_records(session, [WHIP])
    found = refusals(sqlite_engine, f"Whip,At,Diameter\nW,2 ft,13 mm\n{row}\n")
    assert found.startswith("line 3, ")
    assert told in found
    with reading(sqlite_engine) as session:
        assert whip(session, "W").readings == ()


INCHES = [f"{n / 2000:.4f}" for n in range(40, 4725)]
"""Every half thousandth of an inch from 0.02 to 2.36 in."""
MILLIMETRES = [f"{n / 100:.2f}" for n in range(50, 6001)]
"""Every hundredth of a millimetre from 0.5 to 60 mm."""
OF_ONE_WHIP = 2000


def column_of(form: str, unit: str, steps: list[str]) -> bytes:
    """A table of readings, so many of each whip, with the unit in the header."""
    rows = [(f"W{number // OF_ONE_WHIP}", 10, step) for number, step in enumerate(steps)]
    heads = ("Whip", "At mm", f"Diameter {unit}")
    if form == "xlsx":
        book = Workbook()
        for row in [heads, *((label, at, float(step)) for label, at, step in rows)]:
            book.active.append(row)
        stream = io.BytesIO()
        book.save(stream)
        return stream.getvalue()
    text = "\r\n".join(";".join(map(str, row)) for row in [heads, *rows])
    return (text.replace(".", ",") if form == "comma" else text.replace(";", ",")).encode()


def sizes_of(engine: Engine) -> list[tuple[float | None, str | None]]:
    with reading(engine) as session:
        return [(x.diameter_mm, x.typed.get("diameter")) for w in whips(session) for x in w.readings]


@pytest.mark.parametrize("form", ["xlsx", "comma", "point"])
@pytest.mark.parametrize(("unit", "steps"), [("in", INCHES), ("mm", MILLIMETRES)])
def test_every_step_of_calipers_comes_in_as_typed_and_through_each_format(
    sqlite_engine: Engine, form: str, unit: str, steps: list[str]
) -> None:
    labels = [f"W{number}" for number in range(len(steps) // OF_ONE_WHIP + 1)]
    with writing(sqlite_engine) as session:
        take_records(session, [{**WHIP, "label": label} for label in labels])
    take(sqlite_engine, column_of(form, unit, steps))
    if unit == "mm":
        meant = [(float(step), None) for step in steps]
    else:  # a spreadsheet's own cells hold numbers, so that 0.4720 is typed as 0.472
        typed = [f"{float(step):.15g}" if form == "xlsx" else step for step in steps]
        meant = [(float(Fraction(step) * Fraction(254, 10)), f"{step} in") for step in typed]
    assert sizes_of(sqlite_engine) == meant
    if form == "xlsx":
        book = as_xlsx(sqlite_engine)
        emptied(sqlite_engine)
        take(sqlite_engine, book)
        assert as_xlsx(sqlite_engine) == book
    elif form == "comma":
        files = as_csv(sqlite_engine)
        emptied(sqlite_engine)
        take_all(sqlite_engine, files)
        assert as_csv(sqlite_engine) == files
    assert sizes_of(sqlite_engine) == meant
