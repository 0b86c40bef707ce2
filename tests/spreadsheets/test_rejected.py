"""Rejected rows: none is lost, what depends on them goes along, mended they are imported again."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from sqlalchemy import Engine, func, select

from plaitlog.models.errors import ImportRefusedError
from plaitlog.models.tables import HistoryRow
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases.changes.undoing import undo
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.importing import import_lines, take_records
from plaitlog.service.usecases.spreadsheets.mapped import WHY
from plaitlog.service.usecases.workshop import whip
from tests.spreadsheets.workshop_files import take
from tests.usecases.examples import FELL, RIDGE
from tests.usecases.test_round_trip import emptied, exported, rows

HEADER = "Whip;At (mm);Diameter (mm);Date;Remarks"
SOUND = ["W;100;17,9;2.3.2024;fine; or not", "W;200;16,2;;"]
ROTTEN = ["W;300;-4;;", "V;100;15,1;;=1+1", "W;400;14;03/04/2024;für später", "W;;12,5;;"]


def started(engine: Engine) -> None:
    with writing(engine) as session:
        take_records(session, [RIDGE, FELL, {"kind": "whip", "label": "W", "thong_length_mm": 1800}])


def test_one_rejected_row_keeps_all_others_out(engine: Engine) -> None:
    started(engine)
    before = rows(engine)
    text = "\n".join([HEADER, "W;100;17,9;;", "W;200;x;;"])
    with pytest.raises(ImportRefusedError, match="1 row is rejected"):
        take(engine, text)
    assert rows(engine) == before


def test_rejected_rows_go_to_a_file_in_the_same_dialect_that_is_mended_and_imported(
    sqlite_engine: Engine,
) -> None:
    started(sqlite_engine)
    text = "\r\n".join([HEADER, '"W";100;17,9;2.3.2024;"fine; or not"', SOUND[1], *ROTTEN])
    kept = io.BytesIO()
    report = take(sqlite_engine, text.encode("cp1252"), partial=True, rejects=kept)
    assert report.counts() == {"add": 2, "update": 0, "there already": 0, "rejected": 4}
    table = list(csv.reader(io.StringIO(kept.getvalue().decode("cp1252")), delimiter=";"))
    assert table[0] == [WHY, *HEADER.split(";")]
    whys, whip_cells, at, size, day, remarks = zip(*table[1:], strict=True)
    assert list(zip(whip_cells, at, size, day, remarks, strict=True)) == [
        tuple(row.replace("=1+1", "'=1+1").replace("-4", "'-4").split(";")) for row in ROTTEN
    ]
    assert "-4.0 is not a size" in whys[0]
    assert "no whip 'V'" in whys[1]
    assert "2024-03-04 or 2024-04-03" in whys[2]
    assert "say where the reading was taken" in whys[3]
    mended = (
        kept.getvalue()
        .decode("cp1252")
        .replace(";300;'-4", ";300;4")
        .replace("V;100", "W;110")
        .replace("03/04/2024", "3.4.2024")
        .replace("W;;12,5", "W;500;12,5")
    )
    again = io.BytesIO()
    report = take(sqlite_engine, mended.encode("cp1252"), partial=True, rejects=again)
    assert report.counts() == {"add": 4, "update": 0, "there already": 0, "rejected": 0}
    assert again.getvalue() == b""
    with reading(sqlite_engine) as session:
        found = {(x.at_mm, x.diameter_mm): x.notes for x in whip(session, "W").readings}
    assert found == {
        (100.0, 17.9): "fine; or not",
        (200.0, 16.2): None,
        (300.0, 4.0): None,
        (110.0, 15.1): "=1+1",
        (400.0, 14.0): "für später",
        (500.0, 12.5): None,
    }


def book_of(**sheets: list[list[object]]) -> bytes:
    book = Workbook()
    book.remove(book.active)
    for name, table in sheets.items():
        sheet = book.create_sheet(name)
        for row in table:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_rejected_whip_takes_its_layers_and_readings_along(sqlite_engine: Engine) -> None:
    started(sqlite_engine)
    content = book_of(
        Readings=[
            ["Whip", "At mm", "Diameter mm"],
            ["A", 100, 17],
            ["B", 100, 16],
            ["C", 100, 15],
            ["W", 9, 9],
        ],
        Layers=[
            ["Whip", "Role", "Cord", "Strands"],
            ["A", "core", "Ridge 4 mm", "mm: 6; p"],
            ["B", "core", "Ridge 4 mm", "mm: 6; p"],
            ["B", "overlay", "Fel 3 mm", "mm: 16; p"],
            ["C", "core", "Ridge 4 mm", "mm: 6; p"],
            ["C", "overlay", "Fell 3 mm", "mm: 16; p"],
        ],
        Whips=[
            ["Label", "Thong length (mm)", "Made on"],
            ["A", -1800, None],
            ["B", 1800, None],
            ["C", 1800, "2.3.2024"],
        ],
    )
    kept = io.BytesIO()
    report = take(sqlite_engine, content, "book.xlsx", partial=True, rejects=kept)
    assert report.counts() == {"add": 5, "update": 0, "there already": 0, "rejected": 7}
    book = load_workbook(io.BytesIO(kept.getvalue()))
    found = {
        sheet.title: [(row[1].value, row[0].value) for row in sheet.iter_rows(min_row=2)] for sheet in book
    }
    assert [label for label, _ in found["Whips"]] == ["A", "B"]
    assert [label for label, _ in found["Layers"]] == ["A", "B", "B"]
    assert [label for label, _ in found["Readings"]] == ["A", "B"]
    assert "-1800" in found["Whips"][0][1]
    assert "row 2 of sheet 'Whips', of the same whip, is rejected" in found["Layers"][0][1]
    assert "did you mean 'Fell 3 mm'?" in found["Layers"][2][1]
    assert "row 4 of sheet 'Layers', of the same whip, is rejected" in found["Whips"][1][1]
    with reading(sqlite_engine) as session:
        assert [layer.role for layer in whip(session, "C").layers] == ["core", "overlay"]
    sheet = book["Whips"]
    sheet["C2"] = 1800
    book["Layers"]["D4"] = "Fell 3 mm"
    mended = io.BytesIO()
    book.save(mended)
    report = take(sqlite_engine, mended.getvalue(), "mended.xlsx")
    assert report.counts() == {"add": 7, "update": 0, "there already": 0, "rejected": 0}


def test_an_import_in_many_parts_is_one_change_that_can_be_undone_and_a_dry_run_none(
    sqlite_engine: Engine,
) -> None:
    labels = [f"L{number}" for number in range(1500)]
    text = "Label,Maker,D0 mm,D300 mm\n" + "".join(f"{label},Orrin,20,17.5\n" for label in labels)
    before = rows(sqlite_engine)
    dry = take(sqlite_engine, text, dry_run=True)
    assert rows(sqlite_engine) == before
    report = take(sqlite_engine, text)
    assert dry.counts() == report.counts()
    assert dry.readings_added == report.readings_added == 3000
    with reading(sqlite_engine) as session:
        assert session.scalar(select(func.count()).select_from(HistoryRow)) == 1
    with writing(sqlite_engine) as session:
        undo(session)
    kept = {"history", "history_entries"}
    after = rows(sqlite_engine)
    assert {name: found for name, found in after.items() if name not in kept} == {
        name: found for name, found in before.items() if name not in kept
    }


def test_rejected_lines_of_json_are_kept_as_they_stand(sqlite_engine: Engine) -> None:
    good = b'{"kind":"whip","label":"W","thong_length_mm":1800}\n'
    bad = (
        b'{"kind":"reading","whip":"V","at_mm":1,"diameter_mm":9}\n\n{"kind":"whip","label":"X",\n{"kind":"wh'
    )
    kept = io.BytesIO()
    with writing(sqlite_engine) as session:
        report = import_lines(session, io.BytesIO(good + bad), partial=True, rejects=kept)
    assert report.counts() == {"add": 1, "update": 0, "there already": 0, "rejected": 3}
    assert kept.getvalue() == bad.replace(b"\n\n", b"\n") + b"\n"
    with reading(sqlite_engine) as session:
        assert b"".join(export_lines(session)) == good


cells = st.sampled_from(
    [
        "W",
        "V",
        "",
        "12",
        "12,5",
        "1,234",
        "x",
        "14 mm",
        "-3",
        "=1+1",
        "2.3.2024",
        "03/04/2024",
        '"',
        "a\nb",
        "0",
    ]
)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    table=st.lists(st.lists(cells, min_size=1, max_size=6), min_size=1, max_size=12),
    order=st.permutations(["Whip", "At mm", "Diameter", "Date", "Doubtful"]),
)
def test_accepted_and_rejected_rows_are_all_rows_and_nothing_of_them_is_lost(
    sqlite_engine: Engine, table: list[list[str]], order: list[str]
) -> None:
    emptied(sqlite_engine)
    started(sqlite_engine)
    text = io.StringIO()
    csv.writer(text).writerows([order, *table])
    filled = [row for row in table if any(cell.strip() for cell in row)]
    kept = io.BytesIO()
    report = take(sqlite_engine, text.getvalue(), partial=True, rejects=kept, decimal="comma")
    counts = report.counts()
    assert sum(counts.values()) == len(filled)
    rejected = list(csv.reader(io.StringIO(kept.getvalue().decode("utf-8-sig"), newline="")))[1:]
    assert len(rejected) == counts["rejected"]
    assert all(why for why, *_ in rejected)
    left = [[cell.removeprefix("'") for cell in row[1:] if cell] for row in rejected]
    assert all([cell for cell in row if cell] in left for row in filled if _is_rotten(row, order))
    before = exported(sqlite_engine)
    if rejected:
        again = take(sqlite_engine, kept.getvalue(), partial=True, decimal="comma")
        assert again.counts()["rejected"] == len(rejected)
    assert exported(sqlite_engine) == before


def _is_rotten(row: list[str], order: list[str]) -> bool:
    label = order.index("Whip")
    return len(row) <= label or row[label].strip() != "W"


def test_a_long_file_needs_little_memory(sqlite_engine: Engine, tmp_path: Path) -> None:
    import tracemalloc

    def peak_mb(whips: int) -> float:
        text = "Label,D0 mm,D300 mm,Notes\n" + "".join(
            f"P{whips}-{number},20,17.5,{'a note of some length ' * 5}\n" for number in range(whips)
        )
        content = tmp_path / "long.csv"
        content.write_text(text)
        with content.open("rb") as stream, writing(sqlite_engine) as session:
            from plaitlog.service.usecases.spreadsheets.importing import import_table

            tracemalloc.start()
            import_table(session, stream, "long.csv")
            found = tracemalloc.get_traced_memory()[1] / 1e6
            tracemalloc.stop()
        return found

    peak_mb(50)  # what is loaded at the first use of all is no part of it
    short, long = peak_mb(1100), peak_mb(3300)
    assert long < short * 1.3, f"{short:.0f} MB for 1100 rows, {long:.0f} MB for three times as many"
